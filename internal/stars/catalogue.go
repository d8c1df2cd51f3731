package stars

import (
	"math"
	"slices"
)

// catalogue turns candidates into stars with position, flux and significance,
// leaving out what is no star: single hot pixels and particle hits, which one
// or two pixels explain better than the profile of a star does; nebula knots
// and galaxies, which are broader than a star; and noise that only stands out
// because the sky around it is noisier than the mesh says.
func (p *plane) catalogue(k *kernel, s seeing, threshold float64) []Star {
	var list []Star
	var spreads []float64 // mean square radius through the filter of each
	p.broad, p.sharp = p.broad[:0], 0
	ring := newRing(max(5, 2.4*s.fwhm), max(7, 3.2*s.fwhm))
	sat := p.saturatedBlobs(k)
	for _, c := range p.search(k, threshold) {
		if sat.covers(p, c.x, c.y) {
			continue
		}
		st, spread, ok := p.star(k, s, c, ring, threshold)
		if ok {
			list = append(list, st)
			spreads = append(spreads, spread)
		}
	}
	list, spreads = withoutDoubles(list, spreads, s)
	p.flagBroad(list, spreads)
	list = append(list, sat.stars...)
	p.flagBlends(list, s)
	return list
}

// withoutDoubles drops the fainter of two candidates whose centres came together:
// one star, at which noise has split the filter's answer.
func withoutDoubles(list []Star, spreads []float64, s seeing) ([]Star, []float64) {
	reach := 0.3 * s.fwhm
	near := newNeighbours(list, reach)
	var single []Star
	var its []float64
	for i := range list {
		brightest := true
		near.within(list[i].X, list[i].Y, reach, func(j int) {
			if list[j].SNR > list[i].SNR || list[j].SNR == list[i].SNR && j < i {
				brightest = false
			}
		})
		if brightest {
			single, its = append(single, list[i]), append(its, spreads[i])
		}
	}
	return single, its
}

// star measures one candidate; spread is its mean square radius through the filter.
func (p *plane) star(k *kernel, s seeing, c candidate, ring *ring, threshold float64) (st Star, spread float64, ok bool) {
	level, scatter := ring.background(p, c.x, c.y)
	noise := max(p.mesh.NoiseAt(float64(c.x), float64(c.y)), scatter)
	if p.green >= 0 {
		noise *= math.Sqrt2
	}
	// A pedestal under the star answers with the sum of the filter.
	response := float64(c.response) - max(0, level)*k.sum
	snr := response / noise
	if snr < threshold {
		return Star{}, 0, false
	}
	x, y := p.centroid(k, float64(c.x), float64(c.y), level)
	g := p.glance(k, x, y, level)
	if g.cut {
		return Star{}, 0, false
	}
	own := p.pixelNoise(x, y, level)
	if s.hollow < 0.5 && (g.sharper() || g.spiked(own, p.gain)) {
		p.sharp++
		return Star{}, 0, false
	}
	if s.hollow < 0.5 && g.broader(g.spread, g.usual, own) {
		if spread, share := p.evenLight(k, x, y, level); g.broader(spread, g.usual, own) || share < leastEven && k.fwhm > 2.5 {
			p.broad = append(p.broad, Star{X: x, Y: y})
			return Star{}, 0, false
		}
	}
	st = Star{X: x, Y: y, Flux: g.flux, FluxErr: noise * math.Sqrt(k.matchedN), Peak: g.peak, SNR: snr,
		FWHM: math.NaN(), Beta: math.NaN(), Ellipticity: math.NaN(), Angle: math.NaN(), ShapeErr: math.NaN(), HFD: math.NaN()}
	if p.gain > 0 {
		st.FluxErr = withPhotons(st.FluxErr, st.Flux, p.gain)
		st.SNR = min(st.SNR, st.Flux/st.FluxErr)
	}
	return st, g.spread, true
}

// pixelNoise is the noise of single pixels on a background of level above the
// mesh's: what the nebula's structure scatters is no part of it.
func (p *plane) pixelNoise(x, y, level float64) float64 {
	return withPhotons(p.mesh.NoiseAt(x, y), level, p.gain)
}

// withPhotons is a noise with that of light's photons on top, where the gain is
// known (NaN: it is not).
func withPhotons(noise, light, gain float64) float64 {
	if gain > 0 {
		return math.Sqrt(noise*noise + max(0, light)/gain)
	}
	return noise
}

// centroid follows the centre of light under the filter's window. Under a
// Gaussian window of the star's own size the first moment shifts by half the
// offset, hence the factor 2 (Bernstein and Jarvis 2002, AJ 123, 583).
func (p *plane) centroid(k *kernel, x, y, level float64) (float64, float64) {
	x0, y0 := x, y
	for range 6 {
		cx, cy := int(math.Round(x)), int(math.Round(y))
		var sum, sx, sy float64
		for j := max(0, cy-k.radius); j <= min(p.h-1, cy+k.radius); j++ {
			for i := max(0, cx-k.radius); i <= min(p.w-1, cx+k.radius); i++ {
				if !p.trusted(i, j) {
					continue
				}
				dx, dy := float64(i)-x, float64(j)-y
				wt := k.at(dx, dy) * (float64(p.r[j*p.w+i]) - level)
				sum += wt
				sx += wt * dx
				sy += wt * dy
			}
		}
		if !(sum > 0) {
			return x0, y0
		}
		dx, dy := 2*sx/sum, 2*sy/sum
		x, y = x+dx, y+dy
		// The start is where the filter answers most. A centre that leaves it runs
		// after a brighter neighbour.
		if far := 0.2*k.fwhm + 0.7; math.Abs(x-x0) > far || math.Abs(y-y0) > far {
			return x0, y0
		}
		if math.Abs(dx)+math.Abs(dy) < 0.005 {
			break
		}
	}
	return x, y
}

// glimpse is what one look through the filter at the exact place tells.
type glimpse struct {
	flux      float64 // by least squares under the Gaussian
	peak      float64
	matched   float64 // sum of squares that the star's profile explains
	twoPixels float64 // sum of squares that the brightest pixel and its brightest neighbour explain
	beside    float64 // height of the star as the light outside these two tells it, over that of the whole
	profile   float64 // height of the star's profile at the brightest pixel
	spread    float64 // px², mean square radius through the filter
	usual     float64 // px², that of a star over the same pixels
	cut       bool    // the brightest pixel borders on a gap or the frame's edge: the star's middle may lie beyond
}

// broader tells that the image is plainly larger than a star: seen through the
// filter, an image of s times a star's size has 2 s²/(1+s²) of its mean square
// radius; 1.45 is s = 1.6.
func (g *glimpse) broader(spread, usual, noise float64) bool {
	snr := math.Sqrt(g.matched) / noise
	return spread > usual*(1.45+3/max(snr, 1))
}

// leastEven is the share of its light that a star with a neighbour has on both
// sides: on the slope of a galaxy's core, a bump has half. Stars under 2.5 px
// may have as little, where their middle is the corner of four pixels.
const leastEven = 0.7

// evenLight is the mean square radius of the light that both of two opposite
// pixels have, and its share of all: a knot or a galaxy is broad on both sides, a
// star with a neighbour only on one.
func (p *plane) evenLight(k *kernel, x, y, level float64) (spread, share float64) {
	cx, cy := int(math.Round(x)), int(math.Round(y))
	if cx-k.radius < 0 || cy-k.radius < 0 || cx+k.radius >= p.w || cy+k.radius >= p.h {
		return math.Inf(1), 0 // no opposite side to tell
	}
	var all, even, r2 float64
	for j := -k.radius; j <= k.radius; j++ {
		for i := -k.radius; i <= k.radius; i++ {
			here, there := float64(p.r[(cy+j)*p.w+cx+i])-level, float64(p.r[(cy-j)*p.w+cx-i])-level
			dx, dy := float64(i), float64(j)
			wt := k.at(dx, dy)
			all += wt * here
			even += wt * min(here, there)
			r2 += wt * min(here, there) * (dx*dx + dy*dy)
		}
	}
	return r2 / even, even / all
}

func (p *plane) glance(k *kernel, x, y, level float64) glimpse {
	cx, cy := int(math.Round(x)), int(math.Round(y))
	var pp, pd, p1, r2, usual float64
	g := glimpse{peak: math.Inf(-1)}
	var px, py int
	for j := max(0, cy-k.radius); j <= min(p.h-1, cy+k.radius); j++ {
		for i := max(0, cx-k.radius); i <= min(p.w-1, cx+k.radius); i++ {
			if !p.trusted(i, j) {
				continue
			}
			dx, dy := float64(i)-x, float64(j)-y
			e := k.at(dx, dy)
			d := float64(p.r[j*p.w+i]) - level
			pp += e * e
			pd += e * d
			p1 += e
			r2 += e * d * (dx*dx + dy*dy)
			usual += e * e * (dx*dx + dy*dy)
			// The brightest of the middle: at the rim of the window a neighbour's
			// light may be higher.
			if d > g.peak && max(i-cx, cx-i) <= 1 && max(j-cy, cy-j) <= 1 {
				g.peak, px, py = d, i, j
			}
		}
	}
	if !(pp > 0) {
		return g
	}
	a := pd / pp // amplitude
	g.matched = max(0, a) * a * pp
	g.flux = a * p1
	if p.green >= 0 {
		g.flux *= 2
	}
	g.spread, g.usual = r2/pd, k.spread
	if cx < k.radius || cy < k.radius || cx >= p.w-k.radius || cy >= p.h-k.radius {
		g.usual = usual / pp // of the part inside the frame
	}
	g.cut = p.gapAround(px, py) >= 3
	second, e2 := 0.0, 0.0
	for j := max(0, py-1); j <= min(p.h-1, py+1); j++ {
		for i := max(0, px-1); i <= min(p.w-1, px+1); i++ {
			if d := float64(p.r[j*p.w+i]) - level; (i != px || j != py) && d > second && p.trusted(i, j) {
				second, e2 = d, k.at(float64(i)-x, float64(j)-y)
			}
		}
	}
	g.twoPixels = g.peak*g.peak + second*second
	e := k.at(float64(px)-x, float64(py)-y)
	g.profile = a * e
	g.beside = (pd - e*g.peak - e2*second) / (pp - e*e - e2*e2) / a
	return g
}

// gapAround counts the neighbours of a pixel that hold no light or lie outside
// the frame.
func (p *plane) gapAround(x, y int) (n int) {
	for j := y - 1; j <= y+1; j++ {
		for i := x - 1; i <= x+1; i++ {
			if i < 0 || j < 0 || i >= p.w || j >= p.h || p.hasBad && p.bad.get(j*p.w+i) {
				n++
			}
		}
	}
	return n
}

// ring is an annulus of at most 64 pixels around a star.
type ring struct {
	dx, dy  []int
	samples []float32
}

func newRing(inner, outer float64) *ring {
	r := &ring{}
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

// background gives the level of the residual around a point and its scatter,
// from the lower half of the samples, which neighbours do not reach.
func (r *ring) background(p *plane, x, y int) (level, scatter float64) {
	r.samples = r.samples[:0]
	for i, dx := range r.dx {
		px, py := x+dx, y+r.dy[i]
		if px >= 0 && py >= 0 && px < p.w && py < p.h && p.trusted(px, py) {
			r.samples = append(r.samples, p.r[py*p.w+px])
		}
	}
	n := len(r.samples)
	if n < 12 {
		return 0, 0
	}
	slices.Sort(r.samples)
	med := r.samples[n/2]
	q := r.samples[int(0.1587*float64(n))]
	return float64(med), float64(med - q)
}

// neighbours finds stars near a point through a grid of buckets.
type neighbours struct {
	list  []Star
	side  float64
	cells map[[2]int][]int
}

func newNeighbours(list []Star, side float64) *neighbours {
	n := &neighbours{list, max(side, 1), map[[2]int][]int{}}
	for i, s := range list {
		c := n.cell(s.X, s.Y)
		n.cells[c] = append(n.cells[c], i)
	}
	return n
}

func (n *neighbours) cell(x, y float64) [2]int {
	return [2]int{int(math.Floor(x / n.side)), int(math.Floor(y / n.side))}
}

// within calls f for every star no farther than reach, which must not exceed
// the side of the buckets.
func (n *neighbours) within(x, y, reach float64, f func(int)) {
	c := n.cell(x, y)
	for j := c[1] - 1; j <= c[1]+1; j++ {
		for i := c[0] - 1; i <= c[0]+1; i++ {
			for _, k := range n.cells[[2]int{i, j}] {
				if math.Hypot(n.list[k].X-x, n.list[k].Y-y) <= reach {
					f(k)
				}
			}
		}
	}
}
