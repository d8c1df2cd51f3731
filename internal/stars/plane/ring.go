package plane

import (
	"math"

	"fitsqa/internal/stats"
)

// Ring is an annulus of at most 64 pixels around a star.
type Ring struct {
	dx, dy  []int
	samples []float32
}

func NewRing(inner, outer float64) *Ring {
	r := &Ring{}
	const n = 64
	for i := range n {
		// Golden-angle steps spread the points evenly over the annulus.
		a := float64(i) * 2.399963
		rad := math.Sqrt(inner*inner + (outer*outer-inner*inner)*(float64(i)+0.5)/n)
		s, c := math.Sincos(a)
		r.dx, r.dy = append(r.dx, int(math.Round(rad*c))), append(r.dy, int(math.Round(rad*s)))
	}
	return r
}

// Background gives the level of the residual around a point and its scatter,
// from the lower half of the samples, which neighbours do not reach.
func (r *Ring) Background(p *Plane, x, y int) (level, scatter float64) {
	r.samples = r.samples[:0]
	for i, dx := range r.dx {
		px, py := x+dx, y+r.dy[i]
		if px >= 0 && py >= 0 && px < p.W && py < p.H && p.Trusted(px, py) {
			r.samples = append(r.samples, p.R[py*p.W+px])
		}
	}
	n := len(r.samples)
	if n < 12 {
		return 0, 0
	}
	med := stats.SelectKth(r.samples, n/2)
	q := stats.SelectKth(r.samples[:n/2], int(0.1587*float64(n)))
	return float64(med), float64(med - q)
}

// Annulus is the median of the pixels between two radii around a point.
func (p *Plane) Annulus(x, y, inner, outer float64) float64 {
	var v []float64
	for j := max(0, int(y-outer)); j <= min(p.H-1, int(y+outer)); j++ {
		for i := max(0, int(x-outer)); i <= min(p.W-1, int(x+outer)); i++ {
			dx, dy := float64(i)-x, float64(j)-y
			if d := dx*dx + dy*dy; d >= inner*inner && d <= outer*outer && p.Trusted(i, j) {
				v = append(v, float64(p.R[j*p.W+i]))
			}
		}
	}
	return stats.MedianInPlace(v)
}
