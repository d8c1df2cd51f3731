package simulated

import (
	"math"
	"testing"
)

// The table of a profile's wings is true to 3e-6 between its places.
func TestWings(t *testing.T) {
	for _, beta := range []float64{1.5, 2.5, 3, 3.5, 5, 10} {
		w := wingOf(beta)
		for z := 0.0; z < 1.2*wingEnd; z += 0.00917 {
			if got, want := w.at(z), w.exact(z); !(math.Abs(got/want-1) <= 3e-6) {
				t.Fatalf("beta %g at %g: %g, want %g", beta, z, got, want)
			}
		}
	}
}

// Pixels of a star are its profile's means over them, by 25 x 25 points: to 3e-4 of its
// brightest pixel, a tenth of the noise of a star of 1e5 electrons.
func TestStarsPixels(t *testing.T) {
	for _, q := range []PSF{{Fwhm: 1.3}, {Fwhm: 1.3, Beta: 2.5}, {Fwhm: 3, Beta: 1.5}, {Fwhm: 3, Beta: 3.5, Ellipticity: 0.3, Angle: 40}} {
		const side, x, y, fine = 41, 20.3, 19.6, 25
		s := NewSim(1, side, side, 0)
		s.Star(x, y, 1, q)
		var peak, worst float64
		for i, got := range s.E {
			if math.Hypot(float64(i%side)-x, float64(i/side)-y) > 4*q.Fwhm {
				continue
			}
			var want float64
			for k := range fine * fine {
				want += q.At(float64(i%side)-x+(float64(k%fine)+0.5)/fine-0.5, float64(i/side)-y+(float64(k/fine)+0.5)/fine-0.5) / (fine * fine)
			}
			peak, worst = max(peak, got), max(worst, math.Abs(got-want))
		}
		if worst > 3e-4*peak {
			t.Errorf("%+v: a pixel is off by %.1e of the brightest", q, worst/peak)
		}
	}
}
