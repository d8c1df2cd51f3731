package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Optics scatter a share of every star's light over a dozen pixels, whatever the seeing: the
// wide apertures of soft subs hold more of it than those of sharp ones, and these are no
// less clear for it.
func TestTransparencyWithWings(t *testing.T) {
	t.Parallel()
	const w, h, n, sky = 600, 500, 120, 300
	widths := []float64{3, 3.1, 3.05, 4, 3, 3.2, 5, 3.1, 3, 6}
	for _, scattered := range []float64{0, 0.1, 0.2} {
		place := simulated.NewSim(7, w, h, 0)
		var at [n][3]float64
		for i := range at {
			at[i] = [3]float64{place.Rng.Float64() * w, place.Rng.Float64() * h, 3000 / math.Pow(1-place.Rng.Float64(), 0.9)}
		}
		var fields []*stars.Field
		for k, fwhm := range widths {
			s := simulated.NewSim(90+uint64(k), w, h, sky)
			for _, l := range at {
				s.Spot(l[0], l[1], (1-scattered)*l[2], fwhm)
				s.Spot(l[0], l[1], scattered*l[2], math.Hypot(14, fwhm))
			}
			fields = append(fields, measureSim(t, s))
		}
		al, _ := registration.Align(fields)
		for k, l := range photometry.Transparencies(fields, al, nil) {
			// The tolerance of a transparency; with a fifth scattered, the widest would be off by a fourteenth.
			if !(math.Abs(l.Ratio.V-1) < 0.02) {
				t.Errorf("%g scattered, %g px: transparency %v", scattered, widths[k], l.Ratio)
			}
		}
	}
}
