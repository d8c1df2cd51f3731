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

// A tree over a part of every sub through one filter is told by the stars that another
// filter shows there, of other colours; a dark nebula, which has stars in neither, and a
// bright one's knots, which are stars in neither, are none.
func TestTreeOverAllSubsOfAFilter(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(3) {
		for _, c := range []struct{ hides, dark, knots float64 }{{}, {hides: 0.35}, {hides: 0.45}, {hides: 0.65}, {dark: 0.5}, {knots: 60}, {dark: 0.5, knots: 60}} {
			rng := rand.New(rand.NewPCG(seed, 11))
			sky := simulated.NewSky(rng, 300, 60, w, h)
			coloured := sky
			coloured.X, coloured.Y, coloured.Flux = slices.Clone(sky.X), slices.Clone(sky.Y), slices.Clone(sky.Flux)
			for i := range coloured.Flux {
				coloured.Flux[i] *= math.Exp(0.3 * rng.NormFloat64()) // as between broad bands
			}
			for range int(c.knots) { // in a third of the field, through one filter alone
				coloured.X, coloured.Y = append(coloured.X, w*(0.3+0.5*rng.Float64())), append(coloured.Y, h*(0.3+0.6*rng.Float64()))
				coloured.Flux = append(coloured.Flux, 3e4)
			}
			var fields [2][]*stars.Field
			for k := range 8 {
				other := k >= 4
				from := map[bool]simulated.Sky{false: sky, true: coloured}[other]
				f := from.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, func(x, y float64) bool {
					return (x+y)/(w+h) > c.dark
				})
				if !other {
					f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0.02, false: 1}[x < c.hides*w] })
				}
				f.FWHM, f.RandomNoise = stats.Known(3, 0.05, 40), stats.Known(18, 0.1, 64)
				fields[k/4] = append(fields[k/4], f)
			}
			al, _ := registration.Align(append(fields[0][:4:4], fields[1]...))
			got := Transparencies(fields[0], al[:4], nil)
			CoveredThroughout(got, fields[0], al[:4], fields[1], al[4:])
			missed := 0
			for k, g := range got {
				if c.hides > 0 && g.Covered.V == 0 {
					missed++
				} else if al[k].Matched() && !(math.Abs(g.Covered.V-c.hides) < 0.06+2*g.Covered.Err && math.Abs(g.Ratio.V-(1-c.hides)) < 0.15) {
					t.Errorf("seed %d, %+v, sub %d: %v covered, light %v", seed, c, k, g.Covered, g.Ratio)
				}
			}
			if missed > 1 { // a few bright stars that shine through may fill a part
				t.Errorf("seed %d, %g hidden: missed in %d of 4 subs", seed, c.hides, missed)
			}
		}
	}
}
