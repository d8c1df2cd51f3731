package night

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The step of raw samples is found in the rows that are looked at, whatever the
// strips, of few values, too, where noise reaches two often; samples that were averaged have
// none, and single ones beside one level lie on a coarser grid by chance.
func TestGridOfSamples(t *testing.T) {
	const w, h = 64, 100
	for _, c := range []struct {
		step, divide, spread, want float64
	}{
		{1, 1, 20, 1}, {4, 1, 20, 4}, {16, 1, 20, 16}, {4, 3, 20, 0}, {1, 1, 0.5, 1}, {4, 1, 1500, 4}, {16, 1, 0.4, 16}, {1, 1, 0, 0},
	} {
		rng := rand.New(rand.NewPCG(4, 4))
		data := make([]float32, w*h)
		for i := range data {
			data[i] = float32(c.step * math.Round(100+c.spread*rng.NormFloat64()) / c.divide)
		}
		data[5] = float32(math.NaN())
		if c.spread == 0 {
			data[6], data[7], data[8] = 104, 108, 112
		}
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
