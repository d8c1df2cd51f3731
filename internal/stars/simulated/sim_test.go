package simulated

import (
	"math"
	"testing"
)

// The table of a profile's wings is true to 3e-6 between its places.
func TestWings(t *testing.T) {
	for _, beta := range []float64{1.5, 2.5, 3, 3.5, 5, 10} {
		w := wingOf(beta)
		for z := 0.0; z < 1.2*wingEnd; z += 0.00917 {
			if got, want := w.at(z), w.exact(z); math.Abs(got/want-1) > 3e-6 {
				t.Fatalf("beta %g at %g: %g, want %g", beta, z, got, want)
			}
		}
	}
}
