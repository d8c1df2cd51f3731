package profile

import (
	"math"
	"testing"
)

// TestRadialAgainstPower holds the table to the profile itself, from exponents
// near the Gaussian to the broadest wings, inside the table and beyond it.
func TestRadialAgainstPower(t *testing.T) {
	var r radial
	for _, q := range []float64{qMin, 0.01, 0.1, 0.3, 0.6, 0.8} {
		r.set(q)
		for u := 0.0; u < 2000; u = u*1.003 + 0.0003 {
			// Hermite's cubic is off by h⁴/384 of the fourth derivative: 1e-9 at the
			// centre, where h is 1/64, and little more where it is wider but the
			// profile is low.
			if got, want := r.at(u), math.Pow(1+r.k*u, -1/q); !(math.Abs(got-want) <= 1e-8) {
				t.Fatalf("q %g at u %g: %.12g, want %.12g", q, u, got, want)
			}
		}
	}
}
