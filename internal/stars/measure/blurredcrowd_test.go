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

// Equally clear subs of one field, sharp and far out of focus, from few stars to as many
// as fill the broad subs: no light is lost in the broad ones, nor won. The sharp ones
// have stars of 2.5 to 4 px.
func TestTransparencyOfBroadSubs(t *testing.T) {
	t.Parallel()
	// What fainter stars add to the background around the bright ones, by which all fluxes
	// of a field are scaled, takes up to 7 % of their light where stars are 10 px broad.
	const most = 0.07
	for _, n := range []int{200, 500, 1200, 2400} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			const side, sky = 500, 300
			place := simulated.NewSim(uint64(n), side, side, 0)
			at := make([][3]float64, n)
			for i := range at {
				at[i] = [3]float64{place.Rng.Float64() * side, place.Rng.Float64() * side, 1500 / math.Pow(1-place.Rng.Float64(), 0.9)}
			}
			var fields []*stars.Field
			widths := []float64{3, 2.5, 4, 3.1, 2.8, 6, 8, 10}
			for k, fwhm := range widths {
				s := simulated.NewSim(50+uint64(k), side, side, sky)
				dx, dy := 10*(s.Rng.Float64()-0.5), 10*(s.Rng.Float64()-0.5)
				for _, l := range at {
					s.Spot(l[0]+dx, l[1]+dy, l[2], fwhm)
				}
				fields = append(fields, measureSim(t, s))
			}
			al, _ := registration.Align(fields)
			for k, l := range photometry.Transparencies(fields, al, nil) {
				if !(math.Abs(l.Ratio.V-1) < most) {
					t.Errorf("%g px: transparency %v", widths[k], l.Ratio)
				}
			}
		})
	}
}
