package subs

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// What drew a sub's stars out. A mount that follows the sky badly drifts, and
// its trails lie along the drift, sub after sub; wind comes in gusts from sub to
// sub and pulls any way. Neighbours are those in time, whatever their filter.
const (
	trailAligned = 0.85 // mean cosine of twice the angle to the neighbours' trails above which all point one way
	trailStrewn  = 0.5  // and below which they do not
	driftAligned = 0.85 // cosine of twice the angle to the drift: within 16°
	driftShows   = 0.7  // px of drift during the exposure, from which it draws out stars
)

// trailKind tells tracking, which pulls one way, from wind, which does not.
func (e *evidence) trailKind() []fact.Fact {
	if d := e.drift(); d.sure && e.motion.px == 0 && math.Cos(2*(d.angle-e.trailAngle)) > driftAligned {
		return []fact.Fact{fact.Of(AlongDrift, fact.Number("drift_px", d.px))}
	}
	along, trailed, round := 0.0, 0.0, 0
	for _, o := range e.around() {
		switch {
		case o.trail > o.lim.EllipticityDoubtful:
			along, trailed = along+math.Cos(2*(o.trailAngle-e.trailAngle)), trailed+1
		case o.trail >= 0:
			round++
		}
	}
	switch mean := along / trailed; {
	case trailed == 0 && round > 1:
		return []fact.Fact{fact.Of(NeighboursRound)}
	case trailed < 2:
		return nil
	case mean > trailAligned:
		return []fact.Fact{fact.Of(LikeNeighbours)}
	case mean < trailStrewn:
		return []fact.Fact{fact.Of(UnlikeNeighbours)}
	}
	return nil
}

// drift is where the pointing of a session's subs on one side of the pier goes.
type drift struct {
	angle float64 // radians
	px    float64 // during the exposure
	sure  bool    // and enough to show
}

// drift is that of the sub's session, worked out once: there may be a thousand of them.
func (e *evidence) drift() drift {
	d, known := e.drifts[e.Align.Flipped]
	if !known {
		d = e.driftOfMates()
		e.drifts[e.Align.Flipped] = d
	}
	return d
}

// driftOfMates is the median of the slopes between pairs of the group's subs (Theil 1950,
// Sen 1968), which the dither scatters.
func (e *evidence) driftOfMates() drift {
	var vx, vy []float64
	for i, a := range e.mates {
		for _, b := range e.mates[:i] {
			dt := a.Start.Sub(b.Start).Seconds()
			if dt > 0 && a.Align.ShiftX.OK() && b.Align.ShiftX.OK() && a.Align.Flipped == b.Align.Flipped && a.Align.Flipped == e.Align.Flipped {
				vx, vy = append(vx, (a.Align.ShiftX.V-b.Align.ShiftX.V)/dt), append(vy, (a.Align.ShiftY.V-b.Align.ShiftY.V)/dt)
			}
		}
	}
	if len(vx) < 3 {
		return drift{}
	}
	x, y := stats.Median(vx), stats.Median(vy)
	n := math.Sqrt(2 * float64(len(vx))) // about so many subs made the pairs
	sure := math.Hypot(x, y) > 4*stats.MedianErr*math.Hypot(stats.MADSigma(vx), stats.MADSigma(vy))/math.Sqrt2/math.Sqrt(n)
	px := math.Hypot(x, y) * e.Exposure
	return drift{math.Atan2(y, x), px, sure && px > driftShows}
}
