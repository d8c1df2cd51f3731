package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// A bright nebula with structure at all scales behind few stars: these have their width,
// not the nebula's knots, of which sums of pixels show many more.
func TestFewStarsOnBrightNebula(t *testing.T) {
	for _, c := range []struct {
		fwhm  float64
		faint bool // but for two
	}{{2.5, false}, {4.5, false}, {3.5, true}, {4.5, true}, {5.5, true}} {
		fwhm := c.fwhm
		q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
		s := simulated.NewSim(8, 500, 340, 800)
		for size := 12.0; size < 150; size *= 1.6 { // knots of each size, the larger the brighter
			for range int(40000 / (size * size)) {
				height := 12 * math.Pow(size, 1.1) * s.Rng.Float64()
				s.Spot(s.Rng.Float64()*500, s.Rng.Float64()*340, height*1.13*size*size, size)
			}
		}
		spots := s.Scatter(9, 30)
		for i, at := range spots {
			height := 3000 + 800*float64(i)
			if c.faint {
				height = []float64{9000, 250}[min(i/2, 1)]
			}
			s.Star(at[0], at[1], fwhm*fwhm*height, q)
		}
		f, err := Measure(s.Frame(), s.W, s.H, simulated.Quiet())
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("FWHM %v of %d stars, truth %.1f", f.FWHM, f.Count, fwhm)
		// 10 %: what of the nebula is in the wings of few stars.
		if !f.FWHM.OK() || !(math.Abs(f.FWHM.V/fwhm-1) <= 0.1) {
			t.Errorf("FWHM %v, truth %.1f", f.FWHM, fwhm)
		}
	}
}
