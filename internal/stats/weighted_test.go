package stats

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The weighted median is what going through the sorted values finds, with values alike
// and weights that halve exactly, nothing and all.
func TestWeightedMedianAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for n := range 300 {
		x, w, order := make([]float64, n), make([]float64, n), make([]int, n)
		var total float64
		for i := range x {
			x[i], w[i], order[i] = float64(rng.IntN(1+n*(n%3))), float64(1+rng.IntN(1+n%4)), i
			total += w[i]
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
		want, sum := math.NaN(), 0.0
		for k, i := range order {
			if sum += w[i]; sum >= total/2 {
				want = x[i]
				if k+1 < n && sum == total/2 {
					want = (want + x[order[k+1]]) / 2
				}
				break
			}
		}
		if got := WeightedMedian(x, w); got != want && n > 0 || n == 0 && !math.IsNaN(got) {
			t.Fatalf("%d values: %v, want %v", n, got, want)
		}
	}
	// A tenth ten times is not one to the last bit.
	if got := WeightedMedian([]float64{5, 1, 4, 2, 3}, slices.Repeat([]float64{0.1}, 5)); got != 3 {
		t.Errorf("of five alike: %v, want 3", got)
	}
}
