package stats

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Of any number of values, some of them alike, the k-th smallest is the k-th of the
// sorted ones, with vector instructions and without.
func TestRanked(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	for n := 1; n <= Few; n++ {
		var x [Few]float32
		for i := range x[:n] {
			x[i] = float32(rng.NormFloat64())
			if n%2 == 0 {
				x[i] = float32(rng.IntN(9) - 4)
			}
		}
		sorted := slices.Sorted(slices.Values(x[:n]))
		for k := range n {
			l := rng.IntN(n)
			got, other := Ranked(&x, n, k, l)
			plain, otherPlain := rankedPlain(&x, int32(k), int32(l))
			if got != sorted[k] || other != sorted[l] || plain != sorted[k] || otherPlain != sorted[l] {
				t.Fatalf("number %d and %d of %d: %v and %v, one by one %v and %v, want %v and %v", k, l, n, got, other, plain, otherPlain, sorted[k], sorted[l])
			}
		}
	}
}

func BenchmarkRanked(b *testing.B) {
	rng := rand.New(rand.NewPCG(7, 2))
	var x [Few]float32
	for i := range x {
		x[i] = float32(rng.NormFloat64())
	}
	b.Run("vector/n=64", func(b *testing.B) {
		for b.Loop() {
			Ranked(&x, Few, 32, 10)
		}
	})
	b.Run("select/n=64", func(b *testing.B) {
		for b.Loop() {
			y := x
			SelectKth(y[:], 32)
			SelectKth(y[:32], 10)
		}
	})
}
