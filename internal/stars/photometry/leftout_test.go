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

// Knots that pass for stars in all subs but the sharpest, which leaves them out as broader,
// or finds them farther off than stars are tied, are not missing there: nothing covers the field,
// and its light is whole. Where it shows nothing, or hardly any light, at their places, they are.
func TestLeftOutForItsShapeIsNotMissing(t *testing.T) {
	const w, h = 900, 700
	for _, c := range []struct {
		name  string
		share float64 // of their light, left out as broader
		off   float64 // px, of their place: taken for stars
		there bool
	}{{"left out", 0.8, 0, true}, {"elsewhere", 0.8, 1.4, true}, {"hardly any light", 0.1, 0, false}, {"gone", 0, 0, false}} {
		for seed := range uint64(4) {
			rng := rand.New(rand.NewPCG(seed, 47))
			sky := simulated.NewSky(rng, 120, 0, w, h)
			var fields []*stars.Field
			for range 6 {
				f := sky.View(rng, w, h, 0, 0, 0, 1, false, simulated.All)
				f.FWHM = stats.Known(4, 0.02, 30)
				fields = append(fields, f)
			}
			sharpest := fields[4]
			sharpest.FWHM.V = 3.6
			isKnot := func(s stars.Star) bool { return s.X < w/4 }
			for _, s := range sharpest.Stars {
				if s.Flux *= c.share; isKnot(s) && c.share > 0 && c.off == 0 {
					sharpest.Broad = append(sharpest.Broad, s)
				}
			}
			if c.off > 0 {
				for i := range sharpest.Stars {
					if s := &sharpest.Stars[i]; isKnot(*s) {
						sin, cos := math.Sincos(6 * rng.Float64())
						s.X, s.Y, s.Flux = s.X+c.off*cos, s.Y+c.off*sin, s.Flux*c.share
					}
				}
				isKnot = func(stars.Star) bool { return false }
			}
			sharpest.Stars = slices.DeleteFunc(sharpest.Stars, isKnot)
			sharpest.Count = len(sharpest.Stars)
			al, _ := registration.Align(fields)
			got := Transparencies(fields, al, nil)[4]
			if c.there && !(got.Covered.V < 0.02 && math.Abs(got.Ratio.V-1) < 0.03) || // a star of 120 is 1 %
				!c.there && !(got.Covered.V > 0.15) { // of a quarter
				t.Errorf("%s, seed %d: %v covered, light %v", c.name, seed, got.Covered, got.Ratio)
			}
		}
	}
}
