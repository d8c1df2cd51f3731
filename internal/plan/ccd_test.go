package plan

import (
	"math"
	"testing"
)

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

// TestSNR holds the CCD equation (Merline and Howell 1995; the form with n/nB and
// the converter's step is grade C, from memory) against astropy 5.2.1's
// signal_to_noise_oir_ccd (E12.1, grade A) and arithmetic done apart (E12.2,
// E12.3, grade B).
func TestSNR(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		ccd                ccd
		rate, t, want, tol float64
	}{
		{ccd{Pixels: 1, BackgroundPixels: inf, Sky: 2, Dark: .006, ReadNoise: 5}, 80, 300, 152.93512768545466, 1e-10},
		{ccd{Pixels: 50, BackgroundPixels: inf, Sky: 2, Dark: .006, ReadNoise: 5}, 80, 300, 102.02149053990586, 1e-10},
		{ccd{Pixels: 25, BackgroundPixels: inf, Sky: 5, Dark: .01, ReadNoise: 3.5}, 10, 60, 6.53827179538735, 1e-12},
		// E12.2 counts electrons: rates over 1 s.
		{ccd{Pixels: 50, BackgroundPixels: inf, Sky: 200, Dark: 5, ReadNoise: 5}, 10000, 1, 68.1994339470, 1e-9},
		{ccd{Pixels: 50, BackgroundPixels: 200, Sky: 200, Dark: 5, ReadNoise: 5}, 10000, 1, 64.0512615220, 1e-9},
		{ccd{Pixels: 50, BackgroundPixels: 200, Sky: 200, Dark: 5, ReadNoise: 5, Gain: 2}, 10000, 1, 64.0238451585, 1e-9},
		{ccd{Pixels: 50, BackgroundPixels: inf, Sky: 200, Dark: 5, ReadNoise: 5}, 500, 1, 4.5643546459, 1e-9},
		{ccd{Pixels: 50, BackgroundPixels: inf}, 1e6, 1, 1000, 1e-9},
		// E12.3: this is the time at which the signal to noise is 50.
		{ccd{Pixels: 25, BackgroundPixels: inf, Sky: 5, Dark: .01, ReadNoise: 3.5}, 10, 3383.5128109978, 50, 1e-9},
	} {
		within(t, "SNR", c.ccd.snr(c.rate, c.t), c.want, c.tol)
	}
	// E12.4, Howell's book example, from memory (grade C): 24013 ADU, sky 620 ADU, 5
	// e-/ADU, R 5, dark 22 e-/h, 300 s, 1 pixel, nB 200.
	book := ccd{Pixels: 1, BackgroundPixels: 200, Sky: 620 * 5 / 300., Dark: 22 / 3600., ReadNoise: 5, Gain: 5}
	within(t, "book", book.snr(24013*5/300., 300), 342, 0.5)
}

// TestShortestExposure is E11.1 (grade A: derived there, and again in the
// package's comment): t = R²/(S((1+ε)²-1)).
func TestShortestExposure(t *testing.T) {
	for _, c := range []struct{ readNoise, rate, share, want float64 }{
		{1.5, .5, .05, 43.9024390},
		{1.5, .51, .05, 43.0416069},
		{3.5, 1, .05, 119.5121951},
		{3.5, .05, .05, 2390.2439},
		{8, 2, .05, 312.1951},
		{1.5, .5, .10, 21.4285714},
		{7, .02, .05, 23902.439},
	} {
		got := shortestExposure(c.readNoise, c.rate, c.share)
		within(t, "shortest", got/c.want, 1, 1e-7) // seven digits are given at least
		within(t, "share there", noiseShare(c.readNoise, c.rate, got), c.share, 1e-12)
	}
	// C(ε), the background in units of R² at which the share is ε.
	for share, c := range map[float64]float64{.01: 49.751244, .02: 24.752475, .05: 9.756098, .10: 4.761905, .20: 2.272727} {
		within(t, "C", shortestExposure(1, 1, share), c, 5e-7)
	}
}

// The number of subs cancels: a stack of any number of subs of the same total
// time has its noise raised by the same share (simulated by counting variances).
func TestNoiseShareOfStacks(t *testing.T) {
	const total, rate, readNoise = 7200.0, 0.4, 1.7
	for _, n := range []float64{10, 60, 240} {
		sub := total / n
		noise := math.Sqrt(n * (rate*sub + readNoise*readNoise))
		within(t, "share", noiseShare(readNoise, rate, sub), noise/math.Sqrt(rate*total)-1, 1e-12)
	}
}
