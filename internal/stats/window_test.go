package stats

import (
	"math/rand/v2"
	"testing"
)

// A weighted window gives bit for bit the same with vector instructions and one by
// one, wherever it lies, the end of the picture included; and what the definition
// gives, to the precision of float32 sums.
func TestWeightsSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	const columns, rows = 60, 45
	picture := drawnRow(rng, columns*rows, false)
	for side := 1; side <= 41; side++ {
		weights := make([]float32, side*side)
		for i := range weights {
			weights[i] = rng.Float32()
		}
		w := NewWeights(side, weights)
		for _, at := range [][2]int{{0, 0}, {3, 1}, {columns - side, 0}, {0, rows - side}, {columns - side, rows - side}} {
			from := picture[at[1]*columns+at[0]:]
			var want float64
			for i, v := range weights {
				want += float64(v) * float64(from[i/side*columns+i%side])
			}
			got, plain := w.Sum(from, columns), w.plainSum(from, columns)
			if got != plain || float64(got)/want-1 > 1e-5 || float64(got)/want-1 < -1e-5 {
				t.Fatalf("side %d at %v: %v, one by one %v, want %v", side, at, got, plain, want)
			}
		}
	}
}

func BenchmarkWeightsSum(b *testing.B) {
	picture, weights := make([]float32, 9*100), make([]float32, 81)
	w := NewWeights(9, weights)
	for name, sum := range map[string]func([]float32, int) float32{"vector": w.Sum, "plain": w.plainSum} {
		b.Run(name+"/side=9", func(b *testing.B) {
			for b.Loop() {
				sum(picture, 100)
			}
		})
	}
}
