package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Knots of galaxies and nebulae, 1.7 to 4 times as wide as the stars, as bright, and
// up to twice as many, do not set the width (3 %: a knot may hide beside a star);
// those of twice a star's width and more are no stars.
func TestKnotsAreNoStars(t *testing.T) {
	t.Parallel()
	for _, knots := range []int{10, 40, 80} {
		for _, fwhm := range []float64{2.5, 3.5, 5} {
			for _, wide := range []float64{1.7, 2.2, 3} {
				t.Run(fmt.Sprintf("%d knots of %v times %v px", knots, wide, fwhm), func(t *testing.T) {
					const sky = 200
					s := simulated.NewSim(uint64(knots)+uint64(10*fwhm*wide), 640, 520, sky)
					q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
					var truth [][2]float64
					for i, at := range s.Scatter(40+knots, 16) {
						flux := s.Signal(30+4*float64(i%40), sky, q)
						if i < 40 {
							s.Star(at[0], at[1], flux, q)
							truth = append(truth, at)
							continue
						}
						size := wide * (1 + 0.5*s.Rng.Float64()) * fwhm
						s.Spot(at[0], at[1], 1.5*flux*wide*wide, size) // as high as stars or higher
					}
					f := measureSim(t, s)
					hit, extra := found(f, truth, 2)
					if !(math.Abs(f.FWHM.V/fwhm-1) < 0.03) || hit < 37 || wide > 2 && extra > max(2, knots/20) {
						t.Errorf("FWHM %v, %d of %d stars, %d false ones", f.FWHM, hit, len(truth), extra)
					}
				})
			}
		}
	}
}
