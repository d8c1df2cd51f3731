package stars

import (
	"math"
	"slices"
)

// blobs are the saturated stars of a frame, found as connected saturated
// pixels: bleeding and the noise of their edges would otherwise count as many
// stars.
type blobs struct {
	stars  []Star
	reach  []float64 // px around each star inside which nothing else is believed
	pixels [][]int   // of each star, those that are saturated
	beside float64   // px around these inside which nothing else is believed
}

// saturatedBlobs collects them.
func (p *plane) saturatedBlobs(k *kernel) *blobs {
	b := &blobs{beside: 2 * k.fwhm}
	if math.IsInf(p.saturation, 1) {
		return b
	}
	limit := 0.95 * p.saturation
	// The test on the residual is cheap and never stricter.
	quick := float32(limit) - slices.Max(p.mesh.Level)
	if quick <= 0 {
		return b
	}
	seen := map[int]bool{}
	for y, top := range p.tops {
		if float64(top) < limit {
			continue
		}
		for x, v := range p.r[y*p.w:][:p.w] {
			if i := y*p.w + x; v >= quick && !seen[i] && p.levelOf(x, y) >= limit {
				b.add(p, k, p.flood(i, limit, seen))
			}
		}
	}
	return b
}

// flood collects the saturated pixels connected with one.
func (p *plane) flood(i int, limit float64, seen map[int]bool) []int {
	stack, all := []int{i}, []int{}
	seen[i] = true
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		all = append(all, k)
		x, y := k%p.w, k/p.w
		for j := max(0, y-1); j <= min(p.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(p.w-1, x+1); i++ {
				if o := j*p.w + i; !seen[o] && p.levelOf(i, j) >= limit {
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
func (b *blobs) add(p *plane, k *kernel, pixels []int) {
	var sx, sy float64
	for _, i := range pixels {
		sx += float64(i % p.w)
		sy += float64(i / p.w)
	}
	n := float64(len(pixels))
	x, y := sx/n, sy/n
	if len(pixels) <= 2 {
		// A hot pixel saturates alone; a star that saturates lights its
		// neighbours to a good part of its own height.
		cx, cy := pixels[0]%p.w, pixels[0]/p.w
		if cx < 1 || cy < 1 || cx >= p.w-1 || cy >= p.h-1 || float64(aroundPeak(p.r, p.w, pixels[0])) < 0.09*float64(p.r[pixels[0]]) {
			return
		}
	}
	radius := math.Sqrt(n / math.Pi)
	reach := radius + 2*k.fwhm
	var flux, peak float64
	for j := max(0, int(y-reach)); j <= min(p.h-1, int(y+reach)); j++ {
		for i := max(0, int(x-reach)); i <= min(p.w-1, int(x+reach)); i++ {
			if math.Hypot(float64(i)-x, float64(j)-y) <= reach {
				v := float64(p.r[j*p.w+i])
				flux += v
				peak = max(peak, v)
			}
		}
	}
	noise := p.mesh.NoiseAt(x, y) * math.Sqrt(math.Pi) * reach
	nan := math.NaN()
	b.stars = append(b.stars, Star{X: x, Y: y, Flux: flux, FluxErr: noise, Peak: peak, SNR: flux / noise,
		FWHM: nan, Beta: nan, Ellipticity: nan, Angle: nan, ShapeErr: nan, HFD: nan, Saturated: true})
	b.reach, b.pixels = append(b.reach, reach), append(b.pixels, pixels)
}

// covers tells whether a point lies on a saturated star or beside the column it
// bleeds along.
func (b *blobs) covers(p *plane, x, y int) bool {
	for i, s := range b.stars {
		if math.Hypot(float64(x)-s.X, float64(y)-s.Y) <= b.reach[i] {
			return true
		}
		// No pixel of so many that are connected is farther from their middle.
		if n := float64(len(b.pixels[i])) + b.beside; math.Abs(float64(x)-s.X) > n || math.Abs(float64(y)-s.Y) > n {
			continue
		}
		for _, at := range b.pixels[i] {
			if math.Hypot(float64(x-at%p.w), float64(y-at/p.w)) <= b.beside {
				return true
			}
		}
	}
	return false
}
