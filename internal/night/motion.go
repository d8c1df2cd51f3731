package night

import (
	"fmt"
	"math"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
)

// MotionReport is how the pointing moved over the subs of one target, by
// camera and frame size.
type MotionReport struct {
	Target, Camera string
	stars.Motion
	Words []string
}

// collectMotions sums up the shifts between the subs of each target.
func (r *Result) collectMotions() {
	for _, same := range sameFields(r.Subs) {
		al := make([]stars.Alignment, len(same))
		times := make([]time.Time, len(same))
		for i, s := range same {
			al[i], times[i] = s.Align, s.Start
		}
		m := MotionReport{Target: same[0].Target, Camera: same[0].Camera, Motion: stars.MotionOf(al, times)}
		m.Words = motionWords(m.Motion, func(i int) string { return frames.Printable(same[i].File) })
		r.Motions = append(r.Motions, m)
	}
}

// motionWords says what a motion means; name gives the name of a sub.
func motionWords(m stars.Motion, name func(i int) string) []string {
	if !m.Drift.OK() {
		return nil
	}
	words := []string{fmt.Sprintf("dither %.1f px rms, drift %.1f ± %.1f px/h, field rotation %.3f ± %.3f °/h",
		m.Dither.V, m.Drift.V, m.Drift.Err, math.Round(1000*m.Rotation.V)/1000+0, m.Rotation.Err)} // + 0: no "-0.000"
	// Fixed pattern follows a drift that is surely there and that the dither does
	// not scatter (common practice, no source).
	if m.Drift.V > 4*m.Drift.Err && m.Drift.V > 1 && m.Dither.V < m.Drift.V/2 {
		words = append(words, "the drift is larger in an hour than the dither: the sensor's fixed pattern may be drawn out into streaks; dither more")
	}
	for _, i := range m.Jumps {
		words = append(words, "the pointing jumped before "+name(i))
	}
	return words
}
