package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// A cover over most of a group's fields hides its stars from more than half of them: the
// few that show them tell that they are missing. Knots on spikes that as few fields show
// stand among stars that all show, and are no stars that others lack.
func TestCoverOverMost(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 21))
		sky := simulated.NewSky(rng, 120, 0, w, h)
		for _, knots := range []bool{false, true} {
			var fields []*stars.Field
			for k := range 9 {
				f := sky.View(rng, w, h, 2*rng.NormFloat64(), 2*rng.NormFloat64(), 0, 1, false, simulated.All)
				switch {
				case k >= 3 && !knots:
					f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < w*0.6] })
				case k < 3 && knots:
					for i, s := range f.Stars[:60] {
						sin, cos := math.Sincos(float64(i))
						s.X, s.Y, s.Flux = s.X+15*cos, s.Y+15*sin, s.Flux/2
						f.Stars = append(f.Stars, s)
					}
				}
				f.Count, f.FWHM = len(f.Stars), stats.Known(3, 0.05, 40)
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			for k, got := range Transparencies(fields, al, nil) {
				want := map[bool]float64{true: 0.6, false: 0}[k >= 3 && !knots]
				// Parts are a quarter of the field, of which the edge cuts two.
				if !(math.Abs(got.Covered.V-want) < 3*got.Covered.Err) {
					t.Errorf("seed %d, knots %v, field %d of %d stars: %v covered, want %v", seed, knots, k, fields[k].Count, got.Covered, want)
				}
			}
		}
	}
}
