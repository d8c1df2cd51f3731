package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Equally clear subs of one field, sharp and far out of focus, flat or tilted, from few
// stars to as many as fill the broad subs: no light is lost in the broad ones, nor won, but
// for what the error tells, and they are even.
func TestTransparencyOfBroadSubs(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		n    int
		tilt float64 // of the width over the field
	}{{100, 0}, {300, 0.3}, {700, 0.4}, {2400, 0}} {
		if testing.Short() && c.n > 300 {
			break
		}
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			const side, sky = 500, 300
			place := simulated.NewSim(uint64(c.n), side, side, 0)
			at := make([][3]float64, c.n)
			for i := range at {
				at[i] = [3]float64{place.Rng.Float64() * side, place.Rng.Float64() * side, 1500 / math.Pow(1-place.Rng.Float64(), 0.9)}
			}
			var fields []*stars.Field
			widths := []float64{3, 2.5, 4, 3.1, 6, 8, 10}
			for k, fwhm := range widths {
				s := simulated.NewSim(50+uint64(k), side, side, sky)
				dx, dy := 10*(s.Rng.Float64()-0.5), 10*(s.Rng.Float64()-0.5)
				for _, l := range at {
					s.Spot(l[0]+dx, l[1]+dy, l[2], fwhm*(1+c.tilt*(l[0]/side-0.5)))
				}
				fields = append(fields, measureSim(t, s))
			}
			al, _ := registration.Align(fields)
			for k, l := range photometry.Transparencies(fields, al, nil) {
				// What fainter stars under the bright ones add is told to a few per cent.
				off := math.Abs(l.Ratio.V - 1)
				if !(off < 0.05 && off < 3*l.Ratio.Err) {
					t.Errorf("%g px: transparency %v", widths[k], l.Ratio)
				}
				if l.Unevenness.Surely() > 5 { // a third of what makes a sub doubtful
					t.Errorf("%g px: unevenness %v", widths[k], l.Unevenness)
				}
			}
		})
	}
}
