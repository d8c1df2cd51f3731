package night

import (
	"fmt"
	"math"
	"slices"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars/tie"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// MotionReport is how the pointing moved over the subs of one target, by
// camera and frame size.
type MotionReport struct {
	Target, Camera names.Name
	tie.Motion
	PolarError  stats.Value // arcmin, the least that the polar axis is off, by the field rotation
	CornerTrail stats.Value // px, by which the field rotation moves the corner stars during the longest sub
	Longest     float64     // s, that sub
	Jumped      []string    // names of the subs before which the pointing jumped
	Lost        []string    // names of the subs that show another field
	Findings    []string    // what the figures mean, only where they carry it
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
	for _, s := range lost(same) {
		m.Lost = append(m.Lost, s.File)
	}
	m.PolarError = polarError(m.Rotation, decs)
	if len(exposures) > 0 {
		m.Longest = slices.Max(exposures)
	}
	m.CornerTrail = cornerTrail(m.Rotation, math.Hypot(float64(same[0].Width), float64(same[0].Height))/2, m.Longest)
	m.Findings = m.words()
	return m
}

// polarError is the least error of the polar axis that turns the field so fast,
// arcmin; decs are the declinations of the subs that tell theirs.
func polarError(rotation stats.Value, decs []float64) stats.Value {
	if !rotation.OK() {
		return rotation
	}
	if len(decs) == 0 {
		return stats.Missing("the headers do not tell the declination")
	}
	perDegree := 60 * sky.PolarError(1, stats.Median(decs))
	if math.IsNaN(perDegree) {
		return stats.Missing("the target is at the pole")
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
		return stats.Missing("the exposure is unknown")
	}
	reach := px * seconds / 3600 * math.Pi / 180
	return stats.Known(math.Abs(rotation.V)*reach, rotation.Err*reach, rotation.N)
}

// motionOf is how the pointing moved over measured subs of one target; indices
// count the subs that have a field.
func motionOf(all []*subs.Sub) tie.Motion {
	var al []tie.Alignment
	var times []time.Time
	for _, s := range all {
		if s.Field != nil {
			al, times = append(al, s.Align), append(times, s.Start)
		}
	}
	return tie.MotionOf(al, times)
}

// lost are subs with about as many stars as the others that nevertheless cannot
// be tied to them, although three quarters of the target's subs can: they show
// another field. Half the stars may be behind cloud, where matching fails too;
// 2.5 times as many are no stars.
func lost(same []*Sub) []*Sub {
	var counts []float64
	var loose []*Sub
	for _, s := range same {
		if s.Align.Matched() {
			counts = append(counts, float64(s.Field.Count))
		} else {
			loose = append(loose, s)
		}
	}
	if len(counts) < 3*len(loose) || len(loose) == 0 {
		return nil
	}
	usual := stats.Median(counts)
	var out []*Sub
	for _, s := range loose {
		if n := float64(s.Field.Count); n >= 12 && n > 0.5*usual && n < 2.5*usual {
			out = append(out, s)
		}
	}
	return out
}

// Limits of what is worth a sentence.
const (
	// surely is how many standard errors tell a motion from none.
	surely = 4
	// polarArcmin is the alignment beyond which a better one is told to be
	// possible: refraction alone lifts the pole by 2' at 25° latitude.
	polarArcmin = 2
	// altAzimuthArcmin is an error that no equatorial mount has which tracks at all.
	altAzimuthArcmin = 300
	// trailPx of motion during a sub draw out a star of 2.5 px FWHM by 0.035,
	// from where it begins to show.
	trailPx = 1
)

// words say what a motion means.
func (m *MotionReport) words() []string {
	var words []string
	if m.Rotation.OK() && math.Abs(m.Rotation.V) > surely*m.Rotation.Err {
		words = append(words, m.rotationWords()...)
	}
	// Fixed pattern follows a drift that is surely there and that the dither does
	// not scatter (common practice, no source).
	if m.Drift.V > surely*m.Drift.Err && m.Drift.V > 1 && m.Dither.V < m.Drift.V/2 {
		words = append(words, "the drift is larger in an hour than the dither: the sensor's fixed pattern may be drawn out into streaks; dither more")
	}
	if len(m.Jumped) > 0 {
		words = append(words, "the pointing jumped before "+nameSome(m.Jumped))
	}
	if len(m.Lost) > 0 {
		words = append(words, nameSome(m.Lost)+": the stars are not those of the target's other subs: wrong target or pointing lost")
	}
	return words
}

// rotationWords say what a field rotation that is surely there tells.
func (m *MotionReport) rotationWords() []string {
	turn := "the field turns by " + stats.Known(math.Abs(m.Rotation.V), m.Rotation.Err, 0).PlusMinus() + " °/h"
	effect, shows := "", false
	if m.CornerTrail.OK() {
		shows = m.CornerTrail.V >= trailPx
		effect = fmt.Sprintf("; it moves the corner stars by %.1f px in a sub of %g s", m.CornerTrail.V, stats.Significant(m.Longest, 4))
		if !shows {
			effect += ", too little to show"
		}
	}
	switch {
	case m.PolarError.V > altAzimuthArcmin:
		return []string{turn + ", more than a mount that follows the sky around its polar axis lets it: an alt-azimuth mount, or a camera that slips" + effect}
	case m.PolarError.V > polarArcmin:
		digits := 1
		if m.PolarError.V >= 10 {
			digits = 0
		}
		return []string{fmt.Sprintf("%s: the polar axis points at least %.*f' beside the pole%s", turn, digits, m.PolarError.V, effect)}
	case shows:
		return []string{turn + effect + ": align the polar axis better"}
	}
	return nil
}

// nameSome lists the first names and counts the rest.
func nameSome(names []string) string {
	const most = 3
	text := ""
	for i, name := range names[:min(most, len(names))] {
		if i > 0 {
			text += ", "
		}
		text += frames.Printable(name)
	}
	if more := len(names) - most; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
