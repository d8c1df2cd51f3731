package detect

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Rows of the filter by ratios are those by its definition, however long and
// slanted it is: to 1e-12, which is the rounding of some sixty steps.
func TestKernelAlongRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 6))
	for range 200 {
		long, short := 0.5+9*rng.Float64(), 0.5+rng.Float64()
		s, c := math.Sincos(2 * math.Pi * rng.Float64())
		k := newKernel(Seeing{Fwhm: 3, Xx: c*c*long*long + s*s*short*short, Xy: s * c * (long*long - short*short), Yy: s*s*long*long + c*c*short*short})
		for dy := -float64(k.radius); dy <= float64(k.radius); dy++ {
			dx := -float64(k.radius) + 2*rng.Float64() - 1
			for i, got := range k.along(dx, dy, k.side) {
				if want := k.at(dx+float64(i), dy); math.Abs(got-want) > 1e-12 {
					t.Fatalf("%.1f x %.1f px, at %.2f %.2f: %v, want %v", long, short, dx+float64(i), dy, got, want)
				}
			}
		}
	}
}
