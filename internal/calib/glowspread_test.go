package calib_test

import "testing"

// Pixels of darks that glow in a corner are as unequal as those of darks that do not: the
// glow's shot noise is not theirs where it does not reach.
func TestUnevenBesideGlow(t *testing.T) {
	t.Parallel()
	for _, glow := range []float64{0, 0.5, 4} { // e-/s
		c := plainCamera()
		c.Glow = glow
		b := newBench(t, c, 850)
		b.bias(12)
		b.flats(6, 25000)
		b.darks(10, 300, 0)
		// 46 000 pixels of 1.8 e- in 1.9 of noise, whose square is known to 1 %, tell it to 2 %.
		agrees(t, set(t, b.analyse(), "dark"), "warm_nonuniformity_e_per_s", c.Warm, 0.05)
	}
}
