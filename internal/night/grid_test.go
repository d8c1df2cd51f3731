package night

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The step of raw samples is found in the rows that are looked at, whatever the
// strips; samples that were averaged, or of few values, have none.
func TestGridOfSamples(t *testing.T) {
	const w, h = 64, 100
	for _, c := range []struct {
		step, divide, spread, want float64
	}{
		{1, 1, 20, 1}, {4, 1, 20, 4}, {16, 1, 20, 16}, {4, 3, 20, 0}, {1, 1, 0.5, 0}, {4, 1, 1500, 4},
	} {
		rng := rand.New(rand.NewPCG(4, 4))
		data := make([]float32, w*h)
		for i := range data {
			data[i] = float32(c.step * math.Round(100+c.spread*rng.NormFloat64()) / c.divide)
		}
		data[5] = float32(math.NaN())
		for _, strip := range []int{1, 7, 16, 100} {
			var g grid
			g.reset(h)
			for y := 0; y < h; y += strip {
				g.add(data[y*w:min(y+strip, h)*w], y, w)
			}
			if got := g.step(); got != c.want {
				t.Errorf("step %g over %g, spread %g, strips of %d rows: %g, want %g", c.step, c.divide, c.spread, strip, got, c.want)
			}
		}
	}
}
