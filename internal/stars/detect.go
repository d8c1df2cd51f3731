package stars

import (
	"math"
	"slices"
)

// kernel is the matched filter: the expected image of a star, a Gaussian of the
// seeing's size and form, scaled so that the sum of its squares is 1. Its
// response to a picture of white noise of sd s has sd s, so response over noise
// is the significance (King 1983, PASP 95, 163).
type kernel struct {
	radius   int
	side     int
	g        []float32
	sum      float64 // of g
	spread   float64 // sum g² r² over sum g²: mean square radius of a star seen through the filter
	xx, xy   float64 // inverse covariance, px^-2
	yy       float64
	fwhm     float64
	matchedN float64 // noise-equivalent area, px
}

func newKernel(s seeing) *kernel {
	det := s.xx*s.yy - s.xy*s.xy
	k := &kernel{xx: s.yy / det, xy: -s.xy / det, yy: s.xx / det, fwhm: s.fwhm}
	k.radius = max(2, int(math.Ceil(2.2*math.Sqrt(max(s.xx, s.yy)))))
	k.side = 2*k.radius + 1
	k.g = make([]float32, k.side*k.side)
	var sum, sum2, r2 float64
	for j := -k.radius; j <= k.radius; j++ {
		for i := -k.radius; i <= k.radius; i++ {
			x, y := float64(i), float64(j)
			v := math.Exp(-(k.xx*x*x + 2*k.xy*x*y + k.yy*y*y) / 2)
			k.g[(j+k.radius)*k.side+i+k.radius] = float32(v)
			sum += v
			sum2 += v * v
			r2 += v * v * (x*x + y*y)
		}
	}
	n := math.Sqrt(sum2)
	for i := range k.g {
		k.g[i] /= float32(n)
	}
	k.sum = sum / n
	k.spread = r2 / sum2
	k.matchedN = sum * sum / sum2
	return k
}

// response is the filter's at a pixel whose window lies inside the frame.
func (k *kernel) response(p *plane, x, y int) float32 {
	var sum float32
	for j := range k.side {
		g := k.g[j*k.side:][:k.side]
		d := p.r[(y+j-k.radius)*p.w+x-k.radius:][:len(g)]
		for i, v := range g {
			sum += v * d[i]
		}
	}
	return sum
}

// responseAt also serves pixels at the edge, by the part of the window inside.
func (k *kernel) responseAt(p *plane, x, y int) float32 {
	if x >= k.radius && y >= k.radius && x < p.w-k.radius && y < p.h-k.radius {
		return k.response(p, x, y)
	}
	var sum, norm float64
	for j := max(0, k.radius-y); j < min(k.side, p.h-y+k.radius); j++ {
		for i := max(0, k.radius-x); i < min(k.side, p.w-x+k.radius); i++ {
			g := float64(k.g[j*k.side+i])
			sum += g * float64(p.r[(y+j-k.radius)*p.w+x+i-k.radius])
			norm += g * g
		}
	}
	if norm < 0.5 {
		return 0 // less than half of a star would be inside
	}
	return float32(sum / math.Sqrt(norm))
}

// candidate is a place where the filter answers.
type candidate struct {
	x, y     int
	response float32
}

// boxShare: a square box of about 1.2 FWHM sees a star at no less than 0.7 of
// the filter's significance, so a star at the threshold is only missed by the
// box if its noise in the box alone is 1.5 sigma low or worse.
const boxShare = 0.58

// search finds the local maxima of the filter's response above threshold times
// the local noise. The costly filter is only evaluated where a running box sum
// stands out, and from there climbs to its maximum.
func (p *plane) search(k *kernel, threshold float64) []candidate {
	side := max(1, int(math.Round((1.19*k.fwhm-1)/2))*2+1)
	if side > min(p.w, p.h)/2 {
		side = 1
	}
	white := 1.0
	if p.green >= 0 {
		// Filled-in pixels repeat the noise of the green ones: sums over many
		// pixels have twice the variance of white noise.
		white = math.Sqrt2
	}
	limits := p.noiseBlocks(1, threshold*white)
	box := p.noiseBlocks(1, threshold*white*boxShare*float64(side))
	cols := (p.w >> blockShift) + 1
	limit := func(x, y int) float32 { return limits[(y>>blockShift)*cols+x>>blockShift] }

	var out []candidate
	p.boxMaxima(side, box, func(x, y int) {
		v := k.responseAt(p, x, y)
		if v < limit(x, y)/2 {
			return
		}
		x, y, v = k.climb(p, x, y, v)
		if v >= limit(x, y) {
			out = append(out, candidate{x, y, v})
		}
	})
	slices.SortFunc(out, func(a, b candidate) int {
		if a.y != b.y {
			return a.y - b.y
		}
		return a.x - b.x
	})
	return slices.CompactFunc(out, func(a, b candidate) bool { return a.x == b.x && a.y == b.y })
}

// climb walks to the nearest local maximum of the response.
func (k *kernel) climb(p *plane, x, y int, v float32) (int, int, float32) {
	for range 4 * k.side {
		bx, by := x, y
		for j := max(0, y-1); j <= min(p.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(p.w-1, x+1); i++ {
				if i == x && j == y {
					continue
				}
				if o := k.responseAt(p, i, j); o > v {
					v, bx, by = o, i, j
				}
			}
		}
		if bx == x && by == y {
			break
		}
		x, y = bx, by
	}
	return x, y, v
}

// boxMaxima calls found for the pixels whose box sum of side x side px is above
// the limit of its block and no smaller than its neighbours'. The sums run
// along rows and columns, so their cost does not depend on the side.
func (p *plane) boxMaxima(side int, limit []float32, found func(x, y int)) {
	w, h, half := p.w, p.h, side/2
	cols := (w >> blockShift) + 1
	ring := make([]float32, side*w) // sums along x of the last side rows
	sums := make([]float32, 3*w)    // box sums of the last three rows
	column := make([]float32, w)
	for y := 0; y < h+half; y++ {
		slot := ring[(y%side)*w:][:w]
		if y >= side {
			for x, v := range slot {
				column[x] -= v
			}
		}
		if y < h {
			rowSums(p.r[y*w:][:w], slot, half)
			for x, v := range slot {
				column[x] += v
			}
		} else {
			clear(slot)
		}
		if y%64 == 63 { // rounding errors must not pile up
			clear(column)
			for j := range side {
				for x, v := range ring[j*w:][:w] {
					column[x] += v
				}
			}
		}
		c := y - half // column now holds the box sums of row c
		if c < 0 {
			continue
		}
		copy(sums[(c%3)*w:][:w], column)
		if c < 1 {
			continue
		}
		row := c - 1 // has its neighbours now
		below, here, above := sums[((row+2)%3)*w:][:w], sums[(row%3)*w:][:w], sums[((row+1)%3)*w:][:w]
		if row == 0 {
			below = here
		}
		p.scanRow(row, below, here, above, limit[(row>>blockShift)*cols:][:cols], found)
	}
	last := h - 1
	here := sums[(last%3)*w:][:w]
	below := here
	if last > 0 {
		below = sums[((last+2)%3)*w:][:w]
	}
	p.scanRow(last, below, here, here, limit[(last>>blockShift)*cols:][:cols], found)
}

// scanRow looks for maxima in one row of box sums.
func (p *plane) scanRow(y int, below, here, above, limit []float32, found func(x, y int)) {
	for b, t := range limit {
		x0, x1 := b<<blockShift, min((b+1)<<blockShift, p.w)
		if x0 >= x1 {
			break
		}
		for i, v := range here[x0:x1] {
			if v < t {
				continue
			}
			x := x0 + i
			l, r := max(x-1, 0), min(x+1, p.w-1)
			if v >= here[l] && v >= here[r] && v >= below[x] && v >= above[x] &&
				v >= below[l] && v >= below[r] && v >= above[l] && v >= above[r] {
				found(x, y)
			}
		}
	}
}

// rowSums writes to dst the sums of src over half px to either side.
func rowSums(src, dst []float32, half int) {
	if half == 0 {
		copy(dst, src)
		return
	}
	w := len(src)
	var s float64
	for x := range min(half, w) {
		s += float64(src[x])
	}
	for x := range w {
		if x+half < w {
			s += float64(src[x+half])
		}
		if x-half-1 >= 0 {
			s -= float64(src[x-half-1])
		}
		dst[x] = float32(s)
	}
}
