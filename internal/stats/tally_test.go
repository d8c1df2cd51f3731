package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Holds sorting by counting to the library's, on numbers that it takes and those that it
// leaves alone.
func TestTally(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	var tally tally
	for _, level := range []float64{0, -20, 1000, 65535, 1e6, 3e9, -3e9} {
		for _, far := range []int{0, 20, 5} { // one in so many is a star, or a gap
			for range 20 {
				x := make([]float32, rng.IntN(600))
				beyond := 0
				for i := range x {
					x[i] = float32(math.Round(level + 30*rng.NormFloat64()))
					if far > 0 && i > 0 && rng.IntN(far) == 0 {
						x[i] += float32(5000 * (1 + rng.IntN(10)) * (2*rng.IntN(2) - 1))
						beyond++
					}
				}
				want := slices.Sorted(slices.Values(x))
				got := make([]float32, len(x))
				switch sorted := tally.sort(got, x); {
				case sorted && !slices.Equal(got, want):
					t.Fatalf("%g: %v sorted is %v", level, x, got)
				case sorted != (len(x) == 0 || math.Abs(level) < 1e9 && 8*beyond <= len(x)):
					t.Fatalf("%g: %d numbers, %d far off: sorted is %v", level, len(x), beyond, sorted)
				}
			}
		}
	}
	for _, odd := range []float32{0.5, float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1))} {
		for at := range 20 {
			x := slices.Repeat([]float32{7, 3}, 10)
			x[at] = odd
			want := slices.Sorted(slices.Values(x))
			if got := make([]float32, len(x)); tally.sort(got, x) && !slices.Equal(got, want) {
				t.Errorf("%v among whole numbers: sorted to %v", odd, got)
			}
		}
	}
	if got := make([]float32, 3); !tally.sort(got, []float32{3, 1, 2}) || !slices.Equal(got, []float32{1, 2, 3}) {
		t.Errorf("counts of what was given up count later: %v", got)
	}
}
