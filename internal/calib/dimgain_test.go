package calib_test

import (
	"math"
	"testing"
)

// The gain by dim flats is off by what offset and read noise have moved since the bias
// frames, as well as by chance: over cameras of moving offsets its stated error is what
// is seen.
func TestStatedErrorOfGainByDimFlats(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("28 cameras for two scatters; TestAccuracy holds figures to the truth")
	}
	for _, light := range []float64{60, 2000} { // e-, the read noise is 12
		var sum, n float64
		for seed := range uint64(14) {
			c := plainCamera()
			c.W, c.H, c.Read, c.Vignette, c.PRNU = 200, 128, 12, 0, 0
			c.Wander, c.Unquiet = 0.1*c.Read/c.Gain, 0.005
			b := newBench(t, c, 900+seed)
			b.bias(12)
			b.flats(16, light)
			v := set(t, b.analyse(), "flat").Figure("gain_e_per_adu").Value
			if !v.OK() {
				t.Fatalf("%g e-: %s", light, v.Why)
			}
			z := (v.V - c.Gain) / v.Err
			sum += z * z
			n++
		}
		// Of 14 the rms has an error of a fifth; two of them either way.
		if rms := math.Sqrt(sum / n); rms < 0.6 || rms > 1.4 {
			t.Errorf("%g e-: rms of z is %.2f", light, rms)
		}
	}
}
