package registration

import (
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// A sub under leaves, at whose edges more stars seem to stand than are hidden, is no
// reference: what it lacks would be missing in all of them. One that shows their stars is,
// and a sub with a few more than the others still is.
func TestCoveredIsNoReference(t *testing.T) {
	const w, h, odd = 1200, 900, 5
	for seed := range simulated.Draws(8) {
		for _, hidden := range []float64{0, 0.3, 0.45, 0.6} {
			rng := rand.New(rand.NewPCG(seed, 47))
			sky := simulated.NewSky(rng, 60, 60, w, h)
			var fields []*stars.Field
			for k := range 14 {
				f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
				if k == odd {
					cover(rng, f, hidden)
				}
				fields = append(fields, f)
			}
			al, reference := Align(fields)
			if is := reference == odd; is != (hidden == 0) {
				t.Errorf("seed %d, %g hidden: reference %d", seed, hidden, reference)
			}
			for i := range al {
				if i != odd && !al[i].Matched() {
					t.Errorf("seed %d, %g hidden: sub %d is not tied", seed, hidden, i)
				}
			}
		}
	}
}

// cover takes a share of a field's stars, and adds a tenth more than these at their edges.
func cover(rng *rand.Rand, f *stars.Field, share float64) {
	n := len(f.Stars)
	for k := range f.Stars {
		if rng.Float64() < share {
			s := &f.Stars[k]
			s.X, s.Y = float64(f.Width)*rng.Float64(), float64(f.Height)*rng.Float64()
		}
	}
	for range 2 + n/10 {
		s := f.Stars[len(f.Stars)-1]
		s.X, s.Y = float64(f.Width)*rng.Float64(), float64(f.Height)*rng.Float64()
		f.Stars = append(f.Stars, s)
	}
	f.Count = len(f.Stars)
}
