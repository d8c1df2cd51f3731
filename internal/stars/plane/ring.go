package plane

import (
	"math"

	"fitsqa/internal/stats"
)

// Ring is some pixels of an annulus around a star.
type Ring struct {
	dx, dy  []int
	reach   int // the farthest of these
	width   int // of the picture that at is for
	at      []int32
	samples []float32
}

// NewRing is one of as many pixels as are quickly ranked, 64.
func NewRing(inner, outer float64) *Ring { return NewRingOf(stats.Few, inner, outer) }

// NewRingOf is one of n pixels.
func NewRingOf(n int, inner, outer float64) *Ring {
	r := &Ring{reach: int(math.Ceil(outer)), samples: make([]float32, 0, n)}
	for i := range n {
		// Golden-angle steps spread the points evenly over the annulus.
		a := float64(i) * 2.399963
		rad := math.Sqrt(inner*inner + (outer*outer-inner*inner)*(float64(i)+0.5)/float64(n))
		s, c := math.Sincos(a)
		r.dx, r.dy = append(r.dx, int(math.Round(rad*c))), append(r.dy, int(math.Round(rad*s)))
	}
	return r
}

// Background gives the level of the residual around a point and its scatter,
// from the lower half of the samples, which neighbours do not reach. It is for rings
// that NewRing makes.
func (r *Ring) Background(p *Plane, x, y int) (level, scatter float64) {
	r.take(p, x, y)
	n := len(r.samples)
	if n < 12 {
		return 0, 0
	}
	med, q := stats.Ranked((*[stats.Few]float32)(r.samples[:stats.Few]), n, n/2, int(0.1587*float64(n)))
	level, scatter = float64(med), float64(med-q)
	if scatter < 1.5*p.Step { // else so few samples are off by more than their grid
		level = withinStep(r.samples[:n], level, p.Step)
	}
	return level, scatter
}

// Median of the residual around a point; NaN where half of the ring lies outside the
// frame, or may not be trusted.
func (r *Ring) Median(p *Plane, x, y int) float64 {
	r.take(p, x, y)
	if n := len(r.samples); 2*n > len(r.dx) {
		return float64(stats.SelectKth(r.samples, n/2))
	}
	return math.NaN()
}

// take gathers the samples around a point that lie in the frame and are trusted.
func (r *Ring) take(p *Plane, x, y int) {
	r.samples = r.samples[:0]
	if x >= r.reach && y >= r.reach && x+r.reach < p.W && y+r.reach < p.H && p.Green < 0 {
		r.takeInside(p, y*p.W+x)
		return
	}
	for i, dx := range r.dx {
		px, py := x+dx, y+r.dy[i]
		if px >= 0 && py >= 0 && px < p.W && py < p.H && p.Trusted(px, py) {
			r.samples = append(r.samples, p.R[py*p.W+px])
		}
	}
}

// takeInside is take where the whole ring lies in a picture that is no mosaic.
func (r *Ring) takeInside(p *Plane, middle int) {
	if r.width != p.W {
		r.width, r.at = p.W, r.at[:0]
		for i, dx := range r.dx {
			r.at = append(r.at, int32(r.dy[i]*p.W+dx))
		}
	}
	for _, d := range r.at {
		if i := middle + int(d); !p.HasBad || !p.Bad.Get(i) {
			r.samples = append(r.samples, p.R[i])
		}
	}
}

// Annulus is the median of the pixels between two radii around a point.
func (p *Plane) Annulus(x, y, inner, outer float64) float64 {
	v := p.annulus[:0]
	for j := max(0, int(math.Ceil(y-outer))); j <= min(p.H-1, int(y+outer)); j++ {
		dy2 := (float64(j) - y) * (float64(j) - y)
		to := math.Sqrt(max(0, outer*outer-dy2))
		if dy2 > inner*inner {
			v = p.appendTrusted(v, j, x-to, x+to)
			continue
		}
		from := math.Sqrt(inner*inner - dy2)
		v = p.appendTrusted(v, j, x-to, x-from)
		v = p.appendTrusted(v, j, x+from, x+to)
	}
	p.annulus = v
	return withinStep(v, stats.MedianInPlace(v), p.Step)
}

// withinStep is the median of samples on a grid, of which many have the same value as it,
// by how many lie under that: as if those within half a step of it were even there (the
// median of grouped data; Yule 1911, An Introduction to the Theory of Statistics, 7.16,
// from memory).
func withinStep(v []float32, median, step float64) float64 {
	if !(step > 0) {
		return median
	}
	low, high := float32(median-step/2), float32(median+step/2)
	under, within := 0, 0
	for _, s := range v {
		if s < low {
			under++
		} else if s <= high {
			within++
		}
	}
	return median - step/2 + step*(float64(len(v))/2-float64(under))/float64(max(1, within))
}

// appendTrusted appends the pixels of row y between two places that may be trusted.
func (p *Plane) appendTrusted(v []float32, y int, from, to float64) []float32 {
	left, right := max(0, int(math.Ceil(from))), min(p.W-1, int(math.Floor(to)))
	if left > right {
		return v
	}
	row := p.R[y*p.W:][left : right+1]
	if !p.HasBad && p.Green < 0 {
		return append(v, row...)
	}
	for i, r := range row {
		if p.Trusted(left+i, y) {
			v = append(v, r)
		}
	}
	return v
}
