package detect

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Rows of the filter by ratios are those by its definition, however long and
// slanted it is, the frame's edge beside it or not: to 1e-12, which is the rounding of
// some hundred steps.
func TestKernelAlongRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 6))
	for range 200 {
		long, short := 0.5+9*rng.Float64(), 0.5+rng.Float64()
		s, c := math.Sincos(2 * math.Pi * rng.Float64())
		k := newKernel(Seeing{Fwhm: 3, Xx: c*c*long*long + s*s*short*short, Xy: s * c * (long*long - short*short), Yy: s*s*long*long + c*c*short*short})
		dx, dy := 2*rng.Float64()-1-float64(k.radius), 2*rng.Float64()-1-float64(k.radius)
		cut := rng.IntN(k.radius+1) * rng.IntN(2)
		dx += float64(cut * rng.IntN(2)) // off the left, else the right
		k.start(dx, dy, k.side-cut)
		for range k.side {
			for i, got := range k.nextRow() {
				if want := k.at(dx+float64(i), dy); !(math.Abs(got-want) <= 1e-12) {
					t.Fatalf("%.1f x %.1f px, at %.2f %.2f: %v, want %v", long, short, dx+float64(i), dy, got, want)
				}
			}
			dy++
		}
	}
}
