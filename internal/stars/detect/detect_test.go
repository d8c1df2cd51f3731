package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
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

// The centre of a star that is a pixel wide is found wherever in its pixel it stands: to
// 0.12 px by light without noise, which is what is left where the pixels sample the
// window and the star too coarsely.
func TestCentresOfNarrowStars(t *testing.T) {
	for _, fwhm := range []float64{0.9, 1.1, 1.4, 2, 3} {
		sigma := fwhm / stars.SigmaToFWHM
		k := newKernel(Seeing{Fwhm: fwhm, Xx: sigma * sigma, Yy: sigma * sigma})
		worst := 0.0
		for n := range 11 {
			x, y := 15+0.1*float64(n)-0.5, 15.3
			p := &plane.Plane{W: 31, H: 31, R: make([]float32, 31*31)}
			share := func(i int, at float64) float64 { // of a Gaussian's light in a pixel along one axis
				edge := func(d float64) float64 { return math.Erf((float64(i) + d - at) / sigma / math.Sqrt2) }
				return (edge(0.5) - edge(-0.5)) / 2
			}
			for i := range p.R {
				p.R[i] = float32(5000 * share(i%31, x) * share(i/31, y))
			}
			gotX, gotY := centroid(p, k.placing, math.Round(x), math.Round(y), 0)
			worst = max(worst, math.Abs(gotX-x), math.Abs(gotY-y))
		}
		if worst > 0.12 {
			t.Errorf("FWHM %g: a centre is off by %.2f px", fwhm, worst)
		}
	}
}
