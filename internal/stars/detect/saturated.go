package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
)

// blobs are the saturated stars of a frame, found as connected saturated
// pixels: bleeding and the noise of their edges would otherwise count as many
// stars.
type blobs struct {
	stars  []stars.Star
	covers []cover // of each star, in the same order
	beside float64 // px around saturated pixels inside which nothing else is believed
}

// cover is what a saturated star covers.
type cover struct {
	x, y   float64
	reach  float64 // px around the star inside which nothing else is believed
	far    float64 // px from it, along either axis, at most
	pixels []int   // those that are saturated
}

// saturatedBlobs collects them.
func saturatedBlobs(p *plane.Plane, k *kernel) *blobs {
	b := &blobs{beside: 2 * k.fwhm}
	if math.IsInf(p.Saturation, 1) {
		return b
	}
	limit := 0.95 * p.Saturation
	// The test on the residual is cheap and never stricter.
	quick := float32(limit) - slices.Max(p.Mesh.Level)
	if quick <= 0 {
		return b
	}
	seen := map[int]bool{}
	for y, top := range p.Tops {
		if float64(top) < limit {
			continue
		}
		for x, v := range p.R[y*p.W:][:p.W] {
			if i := y*p.W + x; v >= quick && !seen[i] && p.LevelOf(x, y) >= limit {
				b.add(p, k, flood(p, i, limit, seen))
			}
		}
	}
	return b
}

// flood collects the saturated pixels connected with one.
func flood(p *plane.Plane, i int, limit float64, seen map[int]bool) []int {
	stack, all := []int{i}, []int{}
	seen[i] = true
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		all = append(all, k)
		x, y := k%p.W, k/p.W
		for j := max(0, y-1); j <= min(p.H-1, y+1); j++ {
			for i := max(0, x-1); i <= min(p.W-1, x+1); i++ {
				if o := j*p.W + i; !seen[o] && p.LevelOf(i, j) >= limit {
					seen[o] = true
					stack = append(stack, o)
				}
			}
		}
	}
	return all
}

// add makes a star of connected saturated pixels, unless they are one lone hot
// pixel.
func (b *blobs) add(p *plane.Plane, k *kernel, pixels []int) {
	var sx, sy float64
	for _, i := range pixels {
		sx += float64(i % p.W)
		sy += float64(i / p.W)
	}
	n := float64(len(pixels))
	x, y := sx/n, sy/n
	if len(pixels) <= 2 {
		// A hot pixel saturates alone; a star that saturates lights its
		// neighbours to a good part of its own height.
		cx, cy := pixels[0]%p.W, pixels[0]/p.W
		if cx < 1 || cy < 1 || cx >= p.W-1 || cy >= p.H-1 || float64(aroundPeak(p.R, p.W, pixels[0])) < 0.09*float64(p.R[pixels[0]]) {
			return
		}
	}
	radius := math.Sqrt(n / math.Pi)
	reach := radius + 2*k.fwhm
	var flux, peak float64
	for j := max(0, int(y-reach)); j <= min(p.H-1, int(y+reach)); j++ {
		for i := max(0, int(x-reach)); i <= min(p.W-1, int(x+reach)); i++ {
			if math.Hypot(float64(i)-x, float64(j)-y) <= reach {
				v := float64(p.R[j*p.W+i])
				flux += v
				peak = max(peak, v)
			}
		}
	}
	noise := p.Mesh.NoiseAt(x, y) * math.Sqrt(math.Pi) * reach
	nan := math.NaN()
	b.stars = append(b.stars, stars.Star{X: x, Y: y, Flux: flux, FluxErr: noise, Peak: peak, SNR: flux / noise,
		FWHM: nan, Beta: nan, Ellipticity: nan, Angle: nan, ShapeErr: nan, HFD: nan, Saturated: true})
	b.covers = append(b.covers, cover{x, y, reach, max(reach, n+b.beside), pixels}) // of n connected pixels, none is farther from their middle
}

// cover tells whether a point lies on a saturated star or beside the column it
// bleeds along.
func (b *blobs) cover(p *plane.Plane, x, y int) bool {
	for i := range b.covers {
		c := &b.covers[i]
		dx, dy := float64(x)-c.x, float64(y)-c.y
		if math.Abs(dx) > c.far || math.Abs(dy) > c.far {
			continue // nearly all
		}
		if dx*dx+dy*dy <= c.reach*c.reach {
			return true
		}
		for _, at := range c.pixels {
			if dx, dy := float64(x-at%p.W), float64(y-at/p.W); dx*dx+dy*dy <= b.beside*b.beside {
				return true
			}
		}
	}
	return false
}
