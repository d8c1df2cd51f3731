package profile

import (
	"math"
	"testing"
)

// The lowest misfit is found wherever it lies and however much the noise is under what a
// wrong exponent leaves: half an error of the exponent, or a step of the search off at most.
func TestSearchFindsTheExponent(t *testing.T) {
	for _, want := range []float64{qMin, 0.01, 0.03, 0.05, 0.07, 0.1, 0.14, 0.2, 0.3, 0.4, 0.5, 0.56, 0.59, qMax} {
		for _, signal := range []float64{1e2, 1e3, 1e4, 1e5} {
			const pixels = 1000
			of := trials{pixels: []float64{pixels}, failed: make([]bool, 1)}
			n := 0
			got := of.search(func(q float64) {
				n++
				of.add(trial{q: q, misfit: []float64{pixels * math.Log(1+signal*(q-want)*(q-want))}})
			})
			err := 1 / math.Sqrt(2*pixels*signal)
			if off := math.Abs(got.q - want); off > max(err/2, 2*exponentStep) {
				t.Errorf("%.3f with signal %.0e: %.4f after %d trials", want, signal, got.q, n)
			}
		}
	}
}
