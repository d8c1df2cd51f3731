// Package detect finds what shines: the seeing, stars under a matched filter of
// its size, saturated stars, blends, the tracks of satellites, and ridges of light.
//
// Model: a star is a Gaussian of one size over the field; what two pixels explain
// better is a hot pixel or a particle, and what is much broader a knot of nebula
// or a galaxy.
package detect

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
)

// Found is what one search of a picture with one filter found.
type Found struct {
	Stars  []stars.Star
	Broad  []stars.Star // places of what was broader than a star: links of a wide track, perhaps
	Knots  []stars.Star // what lies on the spikes of bright stars
	Points []stars.Star // points of light that were left out as hot pixels
}

// Catalogue searches with a filter of the seeing's form and turns candidates into stars with position, flux and significance,
// leaving out what is no star: single hot pixels and particle hits, which one
// or two pixels explain better than the profile of a star does; nebula knots
// and galaxies, which are broader than a star; and noise that only stands out
// because the sky around it is noisier than the mesh says.
func Catalogue(p *plane.Plane, s Seeing, threshold float64) Found {
	var found Found
	k := newKernel(s)
	ring := ringAround(s)
	sat := saturatedBlobs(p, k)
	around := p.Around(3.2*s.Fwhm + 1)
	candidates := search(p, k, threshold)
	list := make([]image, 0, len(candidates))
	for i, c := range candidates {
		if i+1 < len(candidates) {
			around.Fetch(candidates[i+1].x, candidates[i+1].y)
		}
		if sat.cover(p, c.x, c.y) {
			continue
		}
		switch im, what := star(p, k, s, c, ring, threshold); what {
		case isStar:
			list = append(list, im)
		case tooSharp:
			found.Points = append(found.Points, im.Star)
		case tooBroad:
			found.Broad = append(found.Broad, im.Star)
		}
	}
	list, found.Points = takePoints(list, found.Points)
	var spreads []float64
	found.Stars, spreads = withoutDoubles(list, s)
	flagBroad(p, found.Stars, spreads)
	found.Stars = append(found.Stars, sat.stars...)
	flagBlends(found.Stars, s)
	return takeKnots(p, found, s)
}

// ringAround is where the level around a star is measured.
func ringAround(s Seeing) *plane.Ring { return plane.NewRing(max(5, 2.4*s.Fwhm), max(7, 3.2*s.Fwhm)) }

// image is a star with what its look through the filter told besides.
type image struct {
	stars.Star
	spread    float64 // px², mean square radius through the filter
	beside    float64 // see glimpse; +Inf where two pixels explain less than the profile
	besideErr float64
}

// withoutDoubles drops the fainter of two candidates whose centres came together:
// one star, at which noise has split the filter's answer. It gives the stars and their
// mean square radii through the filter.
func withoutDoubles(list []image, s Seeing) (single []stars.Star, spreads []float64) {
	reach := 0.3 * s.Fwhm
	all := make([]stars.Star, len(list))
	for i := range list {
		all[i] = list[i].Star
	}
	near := stars.NewNeighbours(all)
	single, spreads = make([]stars.Star, 0, len(list)), make([]float64, 0, len(list))
	for i := range all {
		brightest := true
		near.Within(all[i].X, all[i].Y, reach, func(j int) {
			if all[j].SNR > all[i].SNR || all[j].SNR == all[i].SNR && j < i {
				brightest = false
			}
		})
		if brightest {
			single, spreads = append(single, all[i]), append(spreads, list[i].spread)
		}
	}
	return single, spreads
}

// kind is what a candidate turned out to be.
type kind int

const (
	isNothing kind = iota
	isStar
	tooSharp // a hot pixel or a particle's hit
	tooBroad
)

// star measures one candidate.
func star(p *plane.Plane, k *kernel, s Seeing, c candidate, ring *plane.Ring, threshold float64) (im image, what kind) {
	level, scatter := ring.Background(p, c.x, c.y)
	noise := max(p.Mesh.NoiseAt(float64(c.x), float64(c.y)), scatter)
	if p.Green >= 0 {
		noise *= math.Sqrt2
	}
	// A pedestal under the star answers with the sum of the filter.
	response := float64(c.response) - max(0, level)*k.sum
	snr := response / noise
	if snr < threshold {
		return image{}, isNothing
	}
	x, y := centroid(p, k.placing, float64(c.x), float64(c.y), level)
	g := glance(p, k, x, y, level)
	if g.cut {
		return image{}, isNothing
	}
	own := p.PixelNoise(x, y, level)
	st := stars.Star{X: x, Y: y, Flux: g.flux, FluxErr: noise * math.Sqrt(k.matchedN), Peak: g.peak, SNR: snr,
		FWHM: math.NaN(), Beta: math.NaN(), Ellipticity: math.NaN(), Angle: math.NaN(), ShapeErr: math.NaN(), HFD: math.NaN()}
	if p.Gain > 0 {
		st.FluxErr = plane.WithPhotons(st.FluxErr, st.Flux, p.Gain)
		st.SNR = min(st.SNR, st.Flux/st.FluxErr)
	}
	if s.Hollow < 0.5 && (g.sharper() || g.spiked(own, p.Gain)) {
		return image{Star: st}, tooSharp
	}
	if s.Hollow < 0.5 && g.broader(g.spread, g.usual, own) {
		if spread, share := evenLight(p, k, x, y, level); g.broader(spread, g.usual, own) || share < leastEven && k.fwhm > 2.5 {
			return image{Star: st}, tooBroad
		}
	}
	im = image{Star: st, spread: g.spread, beside: math.Inf(1)}
	if g.twoPixels > g.matched {
		im.beside, im.besideErr = g.beside, own/g.rest
	}
	return im, isStar
}

// centroid follows the centre of light under the filter's window. Under a
// Gaussian window of the star's own size the first moment shifts by half the
// offset, hence the factor 2 (Bernstein and Jarvis 2002, AJ 123, 583); under a wider one
// it overshoots, less and less. What is filled
// in at red and blue pixels counts: among the green ones alone a narrow star that lies
// between four of them has its centre of light at either.
func centroid(p *plane.Plane, k *kernel, x, y, level float64) (float64, float64) {
	x0, y0 := x, y
	for range 6 {
		cx, cy := int(math.Round(x)), int(math.Round(y))
		var sum, sx, sy float64
		left, right, bottom := max(0, cx-k.radius), min(p.W-1, cx+k.radius), max(0, cy-k.radius)
		k.start(float64(left)-x, float64(bottom)-y, right-left+1)
		for j := bottom; j <= min(p.H-1, cy+k.radius); j++ {
			var row, along float64 // of their own, as none of a row then waits for the one before
			dx := float64(left) - x
			heights := k.nextRow()
			for n, r := range p.R[j*p.W+left:][:len(heights)] {
				if p.HasBad && p.Bad.Get(j*p.W+left+n) {
					continue
				}
				wt := heights[n] * (float64(r) - level)
				row += wt
				along += wt * (dx + float64(n))
			}
			sum += row
			sx += along
			sy += row * (float64(j) - y)
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
	rest      float64 // sum of squares of the profile outside these two, its root
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
func evenLight(p *plane.Plane, k *kernel, x, y, level float64) (spread, share float64) {
	cx, cy := int(math.Round(x)), int(math.Round(y))
	if cx-k.radius < 0 || cy-k.radius < 0 || cx+k.radius >= p.W || cy+k.radius >= p.H {
		return math.Inf(1), 0 // no opposite side to tell
	}
	var all, even, r2 float64
	for j := -k.radius; j <= k.radius; j++ {
		for i := -k.radius; i <= k.radius; i++ {
			here, there := float64(p.R[(cy+j)*p.W+cx+i])-level, float64(p.R[(cy-j)*p.W+cx-i])-level
			dx, dy := float64(i), float64(j)
			wt := k.at(dx, dy)
			all += wt * here
			even += wt * min(here, there)
			r2 += wt * min(here, there) * (dx*dx + dy*dy)
		}
	}
	return r2 / even, even / all
}

// overKernel are sums over a window with a star's profile e and the light d above the level.
type overKernel struct {
	pp, pd, p1 float64 // of e², ed and e
	r2, usual  float64 // of ed and e² times the squared distance
	peak       float64 // the brightest of the middle, and its place
	px, py     int
}

// sumOver sums around a place.
func sumOver(p *plane.Plane, k *kernel, x, y, level float64) overKernel {
	cx, cy := int(math.Round(x)), int(math.Round(y))
	var all overKernel
	peak := math.Inf(-1)
	var px, py int
	left, right, bottom := max(0, cx-k.radius), min(p.W-1, cx+k.radius), max(0, cy-k.radius)
	k.start(float64(left)-x, float64(bottom)-y, right-left+1)
	for j := bottom; j <= min(p.H-1, cy+k.radius); j++ {
		var pp, pd, p1, pp2, pd2 float64 // of the row, as centroid's
		for n, e := range k.nextRow() {
			i := left + n
			if !p.Trusted(i, j) {
				continue
			}
			dx := float64(i) - x
			d := float64(p.R[j*p.W+i]) - level
			ee, ed := e*e, e*d
			pp += ee
			pd += ed
			p1 += e
			pp2 += ee * (dx * dx)
			pd2 += ed * (dx * dx)
			// The brightest of the middle: at the rim of the window a neighbour's
			// light may be higher.
			if d > peak && max(i-cx, cx-i) <= 1 && max(j-cy, cy-j) <= 1 {
				peak, px, py = d, i, j
			}
		}
		dy := float64(j) - y
		all.pp, all.pd, all.p1 = all.pp+pp, all.pd+pd, all.p1+p1
		all.r2, all.usual = all.r2+pd2+pd*dy*dy, all.usual+pp2+pp*dy*dy
	}
	all.peak, all.px, all.py = peak, px, py
	return all
}

// glance looks at a place.
func glance(p *plane.Plane, k *kernel, x, y, level float64) glimpse {
	sums := sumOver(p, k, x, y, level)
	g := glimpse{peak: sums.peak}
	pp, px, py := sums.pp, sums.px, sums.py
	if !(pp > 0) {
		return g
	}
	a := sums.pd / pp // amplitude
	g.matched = max(0, a) * a * pp
	g.flux = a * sums.p1
	if p.Green >= 0 {
		g.flux *= 2
	}
	g.spread, g.usual = sums.r2/sums.pd, k.spread
	cx, cy := int(math.Round(x)), int(math.Round(y))
	if cx < k.radius || cy < k.radius || cx >= p.W-k.radius || cy >= p.H-k.radius {
		g.usual = sums.usual / pp // of the part inside the frame
	}
	g.cut = gapAround(p, px, py) >= 3
	second, e2 := 0.0, 0.0
	if at := brightestBeside(p, px, py, level); at >= 0 {
		second, e2 = float64(p.R[at])-level, k.at(float64(at%p.W)-x, float64(at/p.W)-y)
	}
	g.twoPixels = g.peak*g.peak + second*second
	e := k.at(float64(px)-x, float64(py)-y)
	g.profile = a * e
	rest := pp - e*e - e2*e2
	g.beside, g.rest = (sums.pd-e*g.peak-e2*second)/rest/a, a*math.Sqrt(rest)
	return g
}

// brightestBeside is the brightest trusted neighbour of a pixel that is above a level, its
// place in the picture; -1 where none is.
func brightestBeside(p *plane.Plane, px, py int, level float64) int {
	at, light := -1, 0.0
	for j := max(0, py-1); j <= min(p.H-1, py+1); j++ {
		for i := max(0, px-1); i <= min(p.W-1, px+1); i++ {
			if d := float64(p.R[j*p.W+i]) - level; (i != px || j != py) && d > light && p.Trusted(i, j) {
				at, light = j*p.W+i, d
			}
		}
	}
	return at
}

// gapAround counts the neighbours of a pixel that hold no light or lie outside
// the frame.
func gapAround(p *plane.Plane, x, y int) (n int) {
	for j := y - 1; j <= y+1; j++ {
		for i := x - 1; i <= x+1; i++ {
			if i < 0 || j < 0 || i >= p.W || j >= p.H || p.HasBad && p.Bad.Get(j*p.W+i) {
				n++
			}
		}
	}
	return n
}
