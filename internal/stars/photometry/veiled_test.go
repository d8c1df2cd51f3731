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

// A round cover in the middle of most fields, their offset not taken off: few stars show
// what lies behind it, and no part as large as these tell of lies behind it as a whole. The
// level shows where its edge is.
func TestRoundCoverOverMost(t *testing.T) {
	const w, h, reach = coveredWidth, coveredHeight, 280. // 43 % of the field
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 33))
		sky := simulated.NewSky(rng, 120, 0, w, h)
		fields := coveredFrom(rng, sky, 3, func(x, y float64) float64 {
			return map[bool]float64{true: 0, false: 1}[math.Hypot(x-w/2, y-h/2) < reach]
		})
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			want := map[bool]float64{true: 0.43, false: 0}[k >= 3]
			if !(math.Abs(got.Covered.V-want) <= 0.06) || !(math.Abs(got.Ratio.V-(1-want)) <= 0.06) { // the edge cuts a fourth of the parts
				t.Errorf("seed %d, field %d: %v covered, %v of the light, want %v", seed, k, got.Covered, got.Ratio, want)
			}
		}
	}
}

// A tree over most fields, through whose rim half of the light comes: what stands behind the
// rim is fainter in most fields, and no brighter than others in those that are clear.
func TestRimOverMost(t *testing.T) {
	const w = coveredWidth
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 35))
		sky := simulated.NewSky(rng, 250, 0, w, coveredHeight)
		fields := coveredFrom(rng, sky, 3, func(x, y float64) float64 {
			switch {
			case x < 0.25*w:
				return 0
			case x < 0.55*w:
				return 0.5
			}
			return 1
		})
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			want := map[bool]float64{true: 0.6, false: 1}[k >= 3]
			if !(math.Abs(got.Ratio.V-want) <= 0.12) { // an eighth of the field is a part's half
				t.Errorf("seed %d, field %d: %v of the light, want %v; %v covered", seed, k, got.Ratio, want, got.Covered)
			}
		}
	}
}

const coveredWidth, coveredHeight = 900, 640

// coveredFrom draws fields of a sky, dithered; from a number on something stands before them
// that lets a share of their stars' light through, and of the sky's, over an offset.
func coveredFrom(rng *rand.Rand, sky simulated.Sky, from int, let func(x, y float64) float64) []*stars.Field {
	const w, h = coveredWidth, coveredHeight
	var fields []*stars.Field
	for k := range 14 {
		f := sky.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, simulated.All)
		lets := func(x, y float64) float64 { return 1 }
		if k >= from {
			lets = let
		}
		f = through(f, lets)
		f.Count, f.FWHM, f.Noise = len(f.Stars), stats.Known(3, 0.05, 40), stats.Known(25, 0.1, 1000)
		f.SkyParts = inSkyParts(w, h, func(x, y float64) float64 { return 500 + 600*lets(x, y) })
		fields = append(fields, f)
	}
	return fields
}
