package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Halos are told with an error that holds, whatever the seeing, and whether or not
// haze took light besides: haze alone makes none. Truth is the mean brightness of a
// Gaussian halo between 3 and 6 FWHM over that between 9 and 12; the figure goes by
// medians, and the background under the stars takes up a part of a broad halo: a
// quarter of it.
func TestHalos(t *testing.T) {
	t.Parallel()
	for _, fwhm := range []float64{2.5, 4} {
		for _, haze := range []float64{1, 0.5} { // of the light, that is left
			for _, halo := range []float64{0, 0.05, 0.2, 0.6} { // of a star's light
				if testing.Short() && haze < 1 {
					break
				}
				const sky = 300
				s := simulated.NewSim(uint64(100*halo+10*fwhm), 700, 600, sky)
				q := simulated.PSF{Fwhm: fwhm, Beta: 3.5}
				wide := 4 * fwhm // sd of the halo
				for i, at := range s.Scatter(45, 30) {
					flux := haze * s.Signal(60*math.Pow(1.07, float64(i)), sky, q)
					s.Star(at[0], at[1], flux, q)
					s.Spot(at[0], at[1], halo*flux, wide*math.Sqrt(8*math.Ln2))
				}
				beyond := func(r float64) float64 { return math.Exp(-r * r / 2 / 16) } // share of its light, r in FWHM
				want := halo * (beyond(3) - beyond(6) - 27./63*(beyond(9)-beyond(12)))
				want += 0.004 // of the Moffat image itself
				f := measureSim(t, s)
				if v := f.Halo; !v.OK() || !(math.Abs(v.V-want) <= 3*v.Err+max(0.004, want/4)) || v.Err > 0.03 {
					t.Errorf("FWHM %g, haze %g, halo %g: %v ± %v of %d stars, want %.3f", fwhm, haze, halo, v.V, v.Err, v.N, want)
				}
			}
		}
	}
}
