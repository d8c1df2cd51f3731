package calib_test

import (
	"math"
	"testing"

	"fitsqa/internal/demo/habit"
)

// Bias frames that saw light lie above the darks and are noisier, which no dark can be
// beaten in: no read noise, offset or dark current is told by them. Bias frames in the dark,
// and darks under a black level that was taken off, stay what they are.
func TestBiasFramesThatSawLight(t *testing.T) {
	t.Parallel()
	for _, light := range []float64{0, 12, 80, 900} { // e-; the read noise is 3
		c := plainCamera()
		c.W, c.H, c.Dark = 200, 160, 0.05
		b := newBench(t, c, 820)
		b.shoot(8, habit.Shot{Kind: "Bias", Light: light, SetC: -10})
		b.darks(8, 120, -10)
		r := b.analyse()
		bias, dark := set(t, r, "bias"), set(t, r, "dark")
		if light > 0 {
			withheld(t, bias, "read_noise_adu", "light got in")
			withheld(t, dark, "dark_current_adu_per_s", "light got in")
			continue
		}
		agrees(t, bias, "read_noise_adu", c.Read/c.Gain, 0.02)
		if v := dark.Figure("dark_current_adu_per_s").Value; v.OK() && math.Abs(v.V*c.Gain-0.05*c.Warmer(-10)) > 4*v.Err*c.Gain {
			t.Errorf("%v", v)
		}
	}
}
