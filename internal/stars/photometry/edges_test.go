package photometry

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// inSkyParts is what holds at the middle of each part of a field's sky.
func inSkyParts(w, h int, at func(x, y float64) float64) []float64 {
	out := make([]float64, stars.SkyParts*stars.SkyParts)
	for k := range out {
		u, v := partAt(k)
		out[k] = at((u+0.5)*float64(w), (v+0.5)*float64(h))
	}
	return out
}

// Small leaves before a half of one field: between their edges only bright stars are found,
// and of those a fifth is hidden. The faint ones that are not found there are not covered.
func TestStarsAmongEdges(t *testing.T) {
	const w, h, loud = 900, 640, 12.
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 31))
		sky := simulated.NewSky(rng, 500, 0, w, h)
		var fields []*stars.Field
		for k := range 9 {
			f := sky.View(rng, w, h, 3*rng.NormFloat64(), 3*rng.NormFloat64(), 0, 1, false, simulated.All)
			scatter := func(x, y float64) float64 { return 10 }
			if k == 6 {
				scatter = func(x, y float64) float64 { return map[bool]float64{true: 10 * loud, false: 10}[x < w/2] }
				f = through(f, func(x, y float64) float64 {
					hidden := x < w/2 && math.Mod(x*0.13+y*0.29, 1) < 0.2 // another fifth at each place
					return map[bool]float64{true: 0, false: 1}[hidden]
				})
				var found []stars.Star
				for _, s := range f.Stars {
					if s.X > w/2 || s.Flux > 5*loud*40 { // times the noise of a view
						found = append(found, s)
					}
				}
				f.Stars = found
			}
			f.Count, f.FWHM, f.ScatterParts = len(f.Stars), stats.Known(3, 0.05, 40), inSkyParts(w, h, scatter)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		// A tenth is hidden, by which the few stars that are bright enough among the leaves
		// differ from none by no more than chance.
		if got := Transparencies(fields, al, nil)[6]; !(math.Abs(got.Ratio.V-0.9) < 0.12) || !(got.Covered.V < 0.15) {
			t.Errorf("seed %d: %v of the light, %v covered", seed, got.Ratio, got.Covered)
		}
	}
}

// A half of one field holds no values, as of a frame that was read in part: no star is due
// there, and nothing covers it.
func TestNoValuesAreNoCover(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 32))
		sky := simulated.NewSky(rng, 400, 0, w, h)
		var fields []*stars.Field
		for k := range 8 {
			f := sky.View(rng, w, h, 3*rng.NormFloat64(), 3*rng.NormFloat64(), 0, 1, false, simulated.All)
			there := func(x float64) bool { return k != 5 || x < w/2 }
			f.Stars = slices.DeleteFunc(f.Stars, func(s stars.Star) bool { return !there(s.X) })
			f.Count, f.FWHM, f.ScatterParts = len(f.Stars), stats.Known(3, 0.05, 40), inSkyParts(w, h, func(x, _ float64) float64 {
				return map[bool]float64{true: 10, false: math.NaN()}[there(x)]
			})
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		if got := Transparencies(fields, al, nil)[5]; !(math.Abs(got.Ratio.V-1) < 0.03) || got.Covered.V > 0 {
			t.Errorf("seed %d: %v of the light, %v covered", seed, got.Ratio, got.Covered)
		}
	}
}
