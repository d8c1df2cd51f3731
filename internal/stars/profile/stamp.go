package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
)

type sample struct{ x, y, v, w float64 } // w: 1/variance

// stampRadius is how far around a star the fit looks, px: two FWHM along the
// longer axis, as far as these are still the size of a star.
func stampRadius(s detect.Seeing) float64 {
	return min(2*stars.SigmaToFWHM*math.Sqrt(max(s.Xx, s.Yy))+2, 40)
}

// stamp collects the pixels around a star. All weigh the same: weights from
// each pixel's own photon noise would favour the low ones, and the middle of a
// star would come out flat.
func stamp(p *plane.Plane, dst []sample, x, y, radius float64) []sample {
	dst = dst[:0]
	noise := p.Mesh.NoiseAt(x, y)
	w := 1 / (noise * noise)
	all := !p.HasBad && p.Green < 0
	left, right := max(0, int(math.Ceil(x-radius))), min(p.W-1, int(x+radius))
	for j := max(0, int(math.Ceil(y-radius))); j <= min(p.H-1, int(y+radius)); j++ {
		dy := float64(j) - y
		for i := left; i <= right; i++ {
			dx := float64(i) - x
			if dx*dx+dy*dy <= radius*radius && (all || p.Trusted(i, j)) {
				dst = append(dst, sample{float64(i), float64(j), float64(p.R[j*p.W+i]), w})
			}
		}
	}
	return dst
}
