package night

import (
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// MotionReport is how the pointing moved over the subs of one target, by
// camera and frame size.
type MotionReport struct {
	Target, Camera names.Name
	registration.Motion
	PolarError  stats.Value // arcmin, the least that the polar axis is off, by the field rotation
	CornerTrail stats.Value // px, by which the field rotation moves the corner stars during the longest sub
	Longest     float64     // s, that sub
	Jumped      []string    // names of the subs before which the pointing jumped
	Lost        []string    // names of the subs that show another field
	Findings    []fact.Fact // what the figures mean, only where they carry it
}

// collectMotions sums up the shifts between the subs of each target.
func (r *Result) collectMotions() {
	for _, same := range sameFields(r.Subs) {
		r.Motions = append(r.Motions, newMotionReport(same))
	}
}

func newMotionReport(same []*Sub) MotionReport {
	judged := make([]*subs.Sub, len(same))
	var decs, exposures []float64
	for i, s := range same {
		judged[i] = s.Sub
		if dec := s.Frame.Meta.Dec; !math.IsNaN(dec) {
			decs = append(decs, dec)
		}
		if s.Exposure > 0 {
			exposures = append(exposures, s.Exposure)
		}
	}
	m := MotionReport{Target: same[0].Target, Camera: same[0].Camera, Motion: motionOf(judged), Longest: math.NaN()}
	for _, i := range m.Jumps {
		m.Jumped = append(m.Jumped, same[i].File)
	}
	for _, s := range same {
		if s.lost() {
			m.Lost = append(m.Lost, s.File)
		}
	}
	m.PolarError = polarError(m.Rotation, decs)
	if len(exposures) > 0 {
		m.Longest = slices.Max(exposures)
	}
	m.CornerTrail = cornerTrail(m.Rotation, math.Hypot(float64(same[0].Width), float64(same[0].Height))/2, m.Longest)
	m.Findings = m.found()
	return m
}

// polarError is the least error of the polar axis that turns the field so fast,
// arcmin; decs are the declinations of the subs that tell theirs.
func polarError(rotation stats.Value, decs []float64) stats.Value {
	if !rotation.OK() {
		return rotation
	}
	if len(decs) == 0 {
		return stats.Missing(NoDeclination)
	}
	perDegree := 60 * sky.PolarError(1, stats.Median(decs))
	if math.IsNaN(perDegree) {
		return stats.Missing(AtPole)
	}
	return stats.Known(math.Abs(rotation.V)*perDegree, rotation.Err*perDegree, rotation.N)
}

// cornerTrail is by how many px a rotation moves what is so many px from the
// middle in so many seconds (NaN: unknown).
func cornerTrail(rotation stats.Value, px, seconds float64) stats.Value {
	if !rotation.OK() {
		return rotation
	}
	if math.IsNaN(seconds) {
		return stats.Missing(ExposureUnknown)
	}
	reach := px * seconds / 3600 * math.Pi / 180
	return stats.Known(math.Abs(rotation.V)*reach, rotation.Err*reach, rotation.N)
}

// motionOf is how the pointing moved over measured subs of one target; indices
// count the subs that have a field.
func motionOf(all []*subs.Sub) registration.Motion {
	var al []registration.Alignment
	var times []time.Time
	for _, s := range all {
		if s.Field != nil {
			al, times = append(al, s.Align), append(times, s.Start)
		}
	}
	return registration.MotionOf(al, times)
}

// lost tells whether a sub was judged to show another field.
func (s *Sub) lost() bool {
	return slices.ContainsFunc(s.Findings, func(f subs.Finding) bool { return fact.Has(f.Facts, subs.PointingLost) })
}

// Limits of what is worth a sentence.
const (
	// surely is how many standard errors tell a motion from none.
	surely = 4
	// polarArcmin is the alignment beyond which a better one is advised
	// possible: refraction alone lifts the pole by 2' at 25° latitude.
	polarArcmin = 2
	// altAzimuthArcmin is an error that no equatorial mount has which tracks at all.
	altAzimuthArcmin = 300
	// trailPx of motion during a sub draw out a star of 2.5 px FWHM by 0.035,
	// from where it begins to show.
	trailPx = 1
)

// found is what a motion tells.
func (m *MotionReport) found() []fact.Fact {
	all := m.turn()
	// Fixed pattern follows a drift that is surely there and that the dither does
	// not scatter (common practice, no source).
	if m.Drift.V > surely*m.Drift.Err && m.Drift.V > 1 && m.Dither.V < m.Drift.V/2 {
		all = append(all, fact.Of(DriftBeyondDither))
	}
	if len(m.Jumped) > 0 {
		all = append(all, fact.Of(PointingJumped, some(m.Jumped)...))
	}
	if len(m.Lost) > 0 {
		all = append(all, fact.Of(FieldsForeign, some(m.Lost)...))
	}
	return all
}

// turn is what a field rotation that is surely there tells.
func (m *MotionReport) turn() []fact.Fact {
	if !m.Rotation.OK() || !(math.Abs(m.Rotation.V) > surely*m.Rotation.Err) {
		return nil
	}
	trail, shows := CornersUnknown, m.CornerTrail.OK() && m.CornerTrail.V >= trailPx
	switch {
	case shows:
		trail = CornerTrails
	case m.CornerTrail.OK():
		trail = CornerHardly
	}
	values := []fact.Value{fact.Number("turn_deg_per_h", math.Abs(m.Rotation.V)), fact.Number("turn_deg_per_h_err", m.Rotation.Err),
		fact.Text("trail", string(trail)), fact.Number("trail_px", m.CornerTrail.V), fact.Number("exposure_s", stats.Significant(m.Longest, 4))}
	polar := append(values, fact.Number("polar_arcmin", m.PolarError.V))
	switch {
	case m.PolarError.V > altAzimuthArcmin:
		return []fact.Fact{fact.Of(TurnsLikeAltAz, values...)}
	case m.PolarError.V >= 10:
		return []fact.Fact{fact.Of(PolarAxisFarOff, polar...)}
	case m.PolarError.V > polarArcmin:
		return []fact.Fact{fact.Of(PolarAxisOff, polar...)}
	case shows:
		return []fact.Fact{fact.Of(FieldTurns, values...)}
	}
	return nil
}

// some are the first names, and how many more there are.
func some(names []string) []fact.Value {
	const most = 3
	var first []string
	for _, name := range names[:min(most, len(names))] {
		first = append(first, frames.Printable(name))
	}
	return []fact.Value{fact.Text("files", strings.Join(first, ", ")), fact.Count("more", max(0, len(names)-most))}
}
