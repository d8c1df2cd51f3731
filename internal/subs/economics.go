package subs

import (
	"math"
	"slices"
	"sort"
)

// Economics is what the group's stack is like against how many of the worst subs
// are dropped, and what the verdicts make of it. Signal to noise is for faint
// extended light; 1 is a plain average of all.
//
// Three ways to stack: plainly, as the subs are; scaled to one transparency
// first, as is usual, so that a dim sub brings its noise enlarged; and scaled
// with the best weights, where no sub takes more than it gives.
type Economics struct {
	Stacked  int       // subs that enter: readable, no duplicates, noise known
	Plain    []float64 // index: number dropped, worst first; 0 to Stacked-1
	Scaled   []float64 // likewise; 0 where a sub without any light is among them
	Weighted []float64 // likewise
	// FWHM (px) and Ellipticity of the scaled average's stars, likewise; NaN where
	// none of its subs has a shape.
	FWHM, Ellipticity []float64

	BestDrop                            int     // number to drop for the best scaled average
	Marks                               []Mark  // the deepest, the balanced and the sharpest cut
	UserDrop                            int     // number that the verdicts drop
	UserPlain, UserScaled, UserWeighted float64 // what the verdicts leave; NaN when they leave none
	UserFWHM, UserEllipticity           float64 // likewise, of the scaled average
	UserClearSeconds                    float64 // equivalent clear time that the verdicts drop, s
	PixelScale                          float64 // arcsec/px; NaN when not known
	HalfTransparency, HalfWeight        float64 // of the culled or doubtful sub nearest to half transparency; NaN for none
}

// Mark is the cut that is best for one aim.
type Mark struct {
	Aim  Aim
	Drop int
}

// entry is one sub's share in a stack.
type entry struct {
	sub           *Sub
	signal, noise float64
	shape         starShape
}

// snrPlain of a plain average: Σs / √Σn².
func snrPlain(in []entry) float64 {
	s, v := 0.0, 0.0
	for _, e := range in {
		s += e.signal
		v += e.noise * e.noise
	}
	return s / math.Sqrt(v)
}

// snrScaled of an average of subs that are brought to one signal: k / √Σ(n/s)².
func snrScaled(in []entry) float64 {
	v := 0.0
	for _, e := range in {
		v += (e.noise / e.signal) * (e.noise / e.signal)
	}
	return float64(len(in)) / math.Sqrt(v)
}

// snrWeighted with weights s/n², the best: √Σ(s/n)².
func snrWeighted(in []entry) float64 {
	q := 0.0
	for _, e := range in {
		q += e.signal * e.signal / (e.noise * e.noise)
	}
	return math.Sqrt(q)
}

// economics follows a group's stack from all of its subs to the best one alone.
func economics(group []*Sub) Economics {
	ec := Economics{UserPlain: math.NaN(), UserScaled: math.NaN(), UserWeighted: math.NaN(), UserFWHM: math.NaN(), UserEllipticity: math.NaN(),
		PixelScale: math.NaN(), HalfTransparency: math.NaN(), HalfWeight: math.NaN()}
	all := entries(group)
	ec.Stacked = len(all)
	if len(all) == 0 || !(snrPlain(all) > 0) {
		return ec
	}
	unit := snrPlain(all)
	for k := range all {
		ec.Plain = append(ec.Plain, snrPlain(all[k:])/unit)
		ec.Scaled = append(ec.Scaled, snrScaled(all[k:])/unit)
		ec.Weighted = append(ec.Weighted, snrWeighted(all[k:])/unit)
		if ec.Scaled[k] > ec.Scaled[ec.BestDrop]*(1+1e-12) {
			ec.BestDrop = k
		}
	}
	ec.resolve(all)
	ec.asJudged(all, unit)
	ec.PixelScale = all[0].sub.PixelScale
	if s := halfClear(all); s != nil {
		ec.HalfTransparency, ec.HalfWeight = s.Transparency.Ratio.V, s.Weight.V
	}
	return ec
}

// asJudged fills what the verdicts leave.
func (ec *Economics) asJudged(all []entry, unit float64) {
	var left []entry
	for _, e := range all {
		if e.sub.Verdict.Usable() {
			left = append(left, e)
			continue
		}
		ec.UserDrop++
		if e.sub.Weight.OK() {
			ec.UserClearSeconds += e.sub.Exposure * e.sub.Weight.V
		}
	}
	if len(left) == 0 {
		return
	}
	ec.UserPlain, ec.UserScaled, ec.UserWeighted = snrPlain(left)/unit, snrScaled(left)/unit, snrWeighted(left)/unit
	ec.UserFWHM, ec.UserEllipticity = stackShape(shapesOf(left))
}

// entries are the subs that a stack can take, worst first: those that a stack
// for light and detail alike gains least from. A sub whose stars are gone has no
// signal; one whose transparency is unknown for another reason is left out.
func entries(group []*Sub) []entry {
	var all []entry
	for _, s := range group {
		signal := s.Transparency.Ratio.V * s.Exposure
		if !s.Transparency.Ratio.OK() && lostStars(s) {
			signal = 0
		}
		if s.Field == nil || s.DuplicateOf != "" || !(s.RandomNoise.V > 0) || !(signal >= 0) {
			continue
		}
		noise := s.RandomNoise.V
		if d := depthOf(s); d > 0 && signal > 0 { // that of the same pixels as the light
			noise = s.Transparency.Ratio.V / math.Sqrt(d)
		}
		all = append(all, entry{s, signal, noise, shapeOf(s.Field)})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].gives() < all[j].gives() })
	return all
}

// gives is signal to noise times the height of the sub's star images.
func (e entry) gives() float64 {
	height := 1.0
	if e.shape.known() {
		height = e.shape.peak()
	}
	return e.signal / e.noise * height
}

func lostStars(s *Sub) bool {
	return slices.Contains(s.Causes, NoStars) || slices.Contains(s.Causes, FewStars)
}

// halfClear is the culled or doubtful sub nearest to half transparency, to
// show what its like is worth; nil when none is between 0.3 and 0.7.
func halfClear(all []entry) *Sub {
	var best *Sub
	off := 0.2
	for _, e := range all {
		if d := math.Abs(e.sub.Transparency.Ratio.V - 0.5); e.sub.Verdict != Keep && e.sub.Weight.OK() && d <= off {
			best, off = e.sub, d
		}
	}
	return best
}
