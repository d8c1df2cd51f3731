package detect

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// Seeing is a first idea of the size and form of the star images, good to a
// quarter or so: what the detection filter is made from.
type Seeing struct {
	Fwhm       float64 // px, geometric mean, pixel included
	Xx, Xy, Yy float64 // px², covariance of the Gaussian of that size and form
	Bright     int     // images behind it
	Hollow     float64 // share of them that are darker in the middle
}

// RoundSeeing is one without direction, of an FWHM in px.
func RoundSeeing(fwhm float64) Seeing {
	v := fwhm * fwhm / (stars.SigmaToFWHM * stars.SigmaToFWHM)
	return Seeing{Fwhm: fwhm, Xx: v, Yy: v}
}

// LeastFilter is the FWHM of the narrowest filter, px: a star that falls between two
// pixels lights both.
const LeastFilter = 1.2

// AtLeast is the seeing, or a round one of that FWHM where it is less.
func (s Seeing) AtLeast(fwhm float64) Seeing {
	if s.Fwhm >= fwhm {
		return s
	}
	round := RoundSeeing(fwhm)
	round.Bright, round.Hollow = s.Bright, s.Hollow
	return round
}

// EstimateSeeing looks at the brightest unsaturated peaks. The region around a
// peak that is brighter than half of it has the full width at half maximum as
// its diameter, whatever the profile, and shows a ring as a ring. Where single
// pixels carry too few peaks (broad images) the frame is summed over 4x4 px and
// looked at again, unless those few are stars: what more the sums show is then knots of
// nebulae.
func EstimateSeeing(p *plane.Plane) (Seeing, bool) {
	fine := halfRegions(p.R, p.W, p.H, noiseBlocks(p, 1, 10), p.Saturation, p)
	if len(fine) >= 15 || areStars(fine) {
		return summarise(fine, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	small, w, h := binned(p, 4)
	// Summing 16 px raises the noise by 4.
	coarse := halfRegions(small, w, h, noiseBlocks(p, 4, 40), math.Inf(1), nil)
	if few := starsOfBoth(fine, coarse, 4); len(few) > 0 {
		return summarise(few, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	if len(coarse) > 2*len(fine) {
		s := summarise(coarse, 4, w, h)
		if s.Fwhm > 6 {
			return s, true
		}
	}
	if len(fine) > 0 {
		return summarise(fine, 1, p.W, p.H).AtLeast(LeastFilter), true
	}
	return Seeing{}, false
}

// fewestStars is how many images must be alike to be stars among few: fewer where they
// are closely so.
const fewestStars, fewestClose, closely = 4, 3, 1.2

// areStars tells that most of few regions are well sampled and alike, as neither hot pixels
// and particles nor knots of nebulae are.
func areStars(few []region) bool {
	sizes := sampledSizes(few)
	slices.Sort(sizes)
	most, close := 0, 0
	for i := range sizes {
		most, close = max(most, alikeTo(sizes, i, alike)-i), max(close, alikeTo(sizes, i, closely)-i)
	}
	return 2*most >= len(sizes) && (most >= fewestStars || close >= fewestClose)
}

// sampledSizes are the sizes of those regions that are well sampled, and no tracks, px.
func sampledSizes(regs []region) (sizes []float64) {
	for i := range regs {
		if a := regs[i].across(); regs[i].fades && a >= wellSampled {
			sizes = append(sizes, a)
		}
	}
	return sizes
}

// starsOfBoth are the stars among a few regions of single pixels, from the smallest well
// sampled one on, where the regions of sums over bin x bin px bear that out: they show
// each at its place, no larger than the sums make it. Hot pixels side by side may do that
// in a field out of focus, but hardly two alike; one is believed where a third of the sums'
// regions are as small, as fainter stars are and knots of nebulae are not.
func starsOfBoth(fine, coarse []region, bin int) []region {
	sampled := slices.DeleteFunc(slices.Clone(fine), func(g region) bool { return !g.fades || g.across() < wellSampled })
	if len(sampled) == 0 {
		return nil
	}
	smallest := math.Inf(1)
	for i := range sampled {
		smallest = math.Min(smallest, sampled[i].across())
	}
	small := slices.DeleteFunc(slices.Clone(coarse), func(g region) bool { return g.across() > smallest/float64(bin)+widened })
	few := slices.DeleteFunc(slices.Clone(sampled), func(g region) bool {
		at := func(c region) bool {
			return math.Hypot((c.cx+0.5)*float64(bin)-g.cx, (c.cy+0.5)*float64(bin)-g.cy) < 1.5*float64(bin)
		}
		return g.across() > alike*smallest || !slices.ContainsFunc(small, at)
	})
	if len(few) >= 2 && 2*len(few) >= len(sampled) || len(few) == 1 && len(small) >= fewestClose && 3*len(small) >= len(coarse) {
		return few
	}
	return nil
}

// widened is by how much a region of half a dozen pixels may be wider than its image: as
// one that lies on a corner, where 2x2 px are lit at least (across 2.3).
const widened = 1.5

// region is the part of a star image above half its peak.
type region struct {
	area       int
	cx, cy     float64
	xx, xy, yy float64 // second moments of the area, px²
	hollow     bool
	fades      bool // its surroundings are lit too: no track of a charged particle
}

const (
	blockShift  = 5                 // thresholds are constant over 32 px of a row
	regionSide  = 129               // px, window in which a region may grow
	trackMost   = 60                // px, longest track of a particle
	wellSampled = 2.5               // px across half the height, from which the pixels around are lit too
	regionMax   = 80 * 80 * 22 / 28 // px, largest region: 80 px across
)

// noiseBlocks gives factor times the local noise for each block of 32 px of a
// picture summed over bin x bin px: rows of blocks follow one another every 32 rows.
func noiseBlocks(p *plane.Plane, bin int, factor float64) []float32 {
	w, h := p.W/bin, p.H/bin
	cols, rows := (w>>blockShift)+1, (h>>blockShift)+1
	out := make([]float32, cols*rows)
	half := float64(int(1)<<blockShift) / 2
	for j := range rows {
		for i := range cols {
			x := (float64(i<<blockShift) + half) * float64(bin)
			y := (float64(j<<blockShift) + half) * float64(bin)
			out[j*cols+i] = float32(factor * p.Mesh.NoiseAt(min(x, float64(p.W-1)), min(y, float64(p.H-1))))
		}
	}
	return out
}

// binned sums the residual over n x n px.
func binned(p *plane.Plane, n int) ([]float32, int, int) {
	w, h := p.W/n, p.H/n
	out := make([]float32, w*h)
	for y := range h * n {
		src, dst := p.R[y*p.W:], out[(y/n)*w:(y/n)*w+w]
		for x := range dst {
			var s float32
			for _, v := range src[x*n : x*n+n] {
				s += v
			}
			dst[x] += s
		}
	}
	return out, w, h
}

type peak struct {
	at int
	v  float32
}

// enoughPeaks is how many peaks make a look at the rest of a frame needless.
const enoughPeaks = 500

// localMaxima finds pixels above the threshold of their block that no neighbour
// exceeds. It goes over the frame in four passes of every fourth band of
// blocks, and ends with the pass that has found enough. p, when given, tells where high
// pixels are.
func localMaxima(r []float32, w, h int, threshold []float32, p *plane.Plane) []peak {
	var out []peak
	cols := (w >> blockShift) + 1
	need := make([]float32, w) // of every pixel of a band
	for pass := 0; pass < 4 && len(out) < enoughPeaks; pass++ {
		for band := pass; band<<blockShift < h-1; band += 4 {
			for x := range need {
				need[x] = threshold[band*cols+x>>blockShift]
			}
			least := slices.Min(need)
			for y := max(1, band<<blockShift); y < min((band+1)<<blockShift, h-1); y++ {
				look := func(from, to int) {
					for x := max(from, 1); x < min(to, w-1); x++ {
						x += stats.NextReaching(r[y*w+x:y*w+min(to, w-1)], need[x:])
						if i := y*w + x; x < min(to, w-1) && r[i] > need[x] && isTop(r, w, i, r[i]) {
							out = append(out, peak{i, r[i]})
						}
					}
				}
				if p != nil {
					p.EachHigh(y, least, look)
				} else {
					look(0, w)
				}
			}
		}
	}
	return out
}

// isTop breaks ties by order, so that a plateau has one top.
func isTop(r []float32, w, i int, v float32) bool {
	return v >= r[i+1] && v > r[i-1] &&
		v >= r[i+w-1] && v >= r[i+w] && v >= r[i+w+1] &&
		v > r[i-w-1] && v > r[i-w] && v > r[i-w+1]
}

// halfRegions measures the regions of up to 100 of the brightest peaks. p, when
// given, tells which peaks are saturated.
func halfRegions(r []float32, w, h int, threshold []float32, saturation float64, p *plane.Plane) []region {
	peaks := localMaxima(r, w, h, threshold, p)
	slices.SortFunc(peaks, func(a, b peak) int {
		if a.v != b.v {
			if a.v > b.v {
				return -1
			}
			return 1
		}
		return a.at - b.at
	})
	var out []region
	g := grower{r: r, w: w, h: h}
	for k, pk := range peaks {
		if k == 3000 || len(out) == 100 {
			break
		}
		x, y := pk.at%w, pk.at/w
		if p != nil && p.LevelOf(x, y) > 0.9*saturation {
			continue
		}
		if p != nil && p.Green >= 0 && alone(p, x, y) || aroundPeak(r, w, pk.at) < 0.09*pk.v {
			continue // all in one pixel: no optics makes that
		}
		if reg, ok := g.grow(x, y, pk.v/2); ok {
			out = append(out, reg)
		}
	}
	return out
}

// aroundPeak is the mean of the eight neighbours.
func aroundPeak(r []float32, w, i int) float32 {
	return (r[i-1] + r[i+1] + r[i-w-1] + r[i-w] + r[i-w+1] + r[i+w-1] + r[i+w] + r[i+w+1]) / 8
}

// alone tells whether a pixel of a mosaic shines while the green ones nearest to it
// do not: what is filled in between would make a star of it. These hold no less than
// a twelfth each of the light of stars of 1.1 px.
func alone(p *plane.Plane, x, y int) bool {
	if !p.Measured(x, y) {
		return false
	}
	at := func(dx, dy int) float32 { return p.R[min(max(y+dy, 0), p.H-1)*p.W+min(max(x+dx, 0), p.W-1)] }
	beside := (at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1)) / 4
	return beside < 0.04*at(0, 0)
}

// grower follows connected pixels above a level.
type grower struct {
	r     []float32
	w, h  int
	seen  [regionSide * regionSide]bool
	stack []int32
}

// grow collects the pixels connected with x,y (by eight) that are above cut. It
// gives up at the frame's edge, at pixels brighter than the first (another,
// brighter star) and when the region grows too large for a star.
func (g *grower) grow(x, y int, cut float32) (region, bool) {
	clear(g.seen[:])
	top := g.r[y*g.w+x]
	const c = regionSide / 2
	g.stack = append(g.stack[:0], c*regionSide+c)
	g.seen[c*regionSide+c] = true
	var m moments
	var rim int
	var beyond float64
	for len(g.stack) > 0 {
		k := int(g.stack[len(g.stack)-1])
		g.stack = g.stack[:len(g.stack)-1]
		dx, dy := k%regionSide-c, k/regionSide-c
		px, py := x+dx, y+dy
		if px <= 0 || py <= 0 || px >= g.w-1 || py >= g.h-1 || dx <= -c || dx >= c || dy <= -c || dy >= c {
			return region{}, false
		}
		v := g.r[py*g.w+px]
		if v > top || m.n > regionMax {
			return region{}, false
		}
		m.add(float64(dx), float64(dy), float64(v))
		for j := -1; j <= 1; j++ {
			for i := -1; i <= 1; i++ {
				o := k + j*regionSide + i
				if g.seen[o] {
					continue
				}
				g.seen[o] = true
				if v := g.r[(py+j)*g.w+px+i]; v > cut {
					g.stack = append(g.stack, int32(o))
				} else {
					rim++
					beyond += float64(v)
				}
			}
		}
	}
	reg := m.region(x, y)
	reg.fades = beyond > 0.12*float64(rim)*float64(top) || m.n > trackMost
	reg.hollow = m.n > 30 && g.middle(&reg) < 0.8*m.light/float64(m.n)
	return reg, true
}

// moments are sums over the pixels of a region, by their places from its top.
type moments struct {
	n                       int
	x, y, xx, xy, yy, light float64
}

func (m *moments) add(x, y, light float64) {
	m.n++
	m.x += x
	m.y += y
	m.xx += x * x
	m.xy += x * y
	m.yy += y * y
	m.light += light
}

// region of the sums, whose top is at a pixel of the frame.
func (m *moments) region(x, y int) region {
	n := float64(m.n)
	mx, my := m.x/n, m.y/n
	return region{area: m.n, cx: float64(x) + mx, cy: float64(y) + my, xx: m.xx/n - mx*mx, xy: m.xy/n - mx*my, yy: m.yy/n - my*my}
}

// middle is the light of the pixels around a region's centre, the mean of nine.
func (g *grower) middle(reg *region) (light float64) {
	cx, cy := int(math.Round(reg.cx)), int(math.Round(reg.cy))
	for j := -1; j <= 1; j++ {
		for i := -1; i <= 1; i++ {
			light += float64(g.r[min(max(cy+j, 0), g.h-1)*g.w+min(max(cx+i, 0), g.w-1)]) / 9
		}
	}
	return light
}

// across is the diameter of a disc as large as the region, px.
func (g *region) across() float64 { return 2 * math.Sqrt(float64(g.area)/math.Pi) }

// alike is the range of sizes, from the least to the greatest, that stars of one
// field have.
const alike = 1.35

// mostly is by how much the median of all sizes may exceed the stars' where most
// images are stars.
const mostly = 1.08

// starSize is the size of the stars among images of many sizes, px. Stars are
// alike; knots of galaxies and nebulae are not, and larger: so of sizes that a fair
// number of the images have about in common, the smallest, if images of that size
// are found all over. Where they are not, focus changes over the field. What is smaller
// than least is no star.
func starSize(regs []region, sizes []float64, least float64, w, h int) float64 {
	median := stats.Median(sizes)
	if median < wellSampled || len(sizes) < 10 {
		return median
	}
	order := make([]int, len(sizes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sizes[a], sizes[b]) })
	sorted := make([]float64, len(sizes))
	places := make([]stars.Place, len(sizes))
	for i, k := range order {
		sorted[i], places[i] = sizes[k], stars.Place{X: regs[k].cx, Y: regs[k].cy}
	}
	most := 0
	for i := range order {
		most = max(most, alikeTo(sorted, i, alike)-i)
	}
	for i := range order {
		to := alikeTo(sorted, i, alike)                 // of stars alike, the i-th being the smallest
		if sorted[i] < least || to-i < max(6, most/4) { // hot pixels side by side, particles; few
			continue
		}
		// Where most images are stars their own median is the better measure: a
		// group begins with the least of them.
		size := stats.Median(sorted[i:to])
		if size >= median/mostly {
			return median
		}
		if stars.AllOver(places, places[i:to], w, h) {
			return size
		}
	}
	return median
}

// alikeTo is the end of those values of a sorted list, from one on, that exceed it by a
// factor at most.
func alikeTo(sorted []float64, from int, factor float64) int {
	return sort.Search(len(sorted), func(k int) bool { return sorted[k] > factor*sorted[from] })
}

// least is the size under which images of a picture summed over bin x bin px are hot
// pixels side by side or particles, in its pixels: two pixels, or what lights hardly
// more than one of the sums.
func least(bin int) float64 {
	if bin > 1 {
		return 1.5
	}
	return 2
}

// summarise turns regions of a picture of w x h, summed over bin x bin px, into one
// seeing.
func summarise(regs []region, bin, w, h int) Seeing {
	// In a long exposure of few stars there may be more tracks of particles than
	// stars. They are only separated where the stars are well sampled.
	fading := slices.DeleteFunc(slices.Clone(regs), func(g region) bool { return !g.fades })
	var sizes []float64
	for _, g := range fading {
		sizes = append(sizes, g.across())
	}
	if len(fading) >= 5 && stats.Median(sizes) > wellSampled {
		regs = fading
	}
	var size, xx, xy, yy []float64
	hollow := 0
	for _, g := range regs {
		across := g.across()
		// A ring counts with its outer diameter: its second moment is that of
		// a disc sqrt(2) times as wide, or less.
		if m := math.Sqrt(g.xx*g.yy - g.xy*g.xy); g.hollow && m > 0 {
			across = max(across, 2*math.Sqrt(2)*math.Sqrt(m))
		}
		size = append(size, across)
		if g.hollow {
			hollow++
		}
		if t := g.xx + g.yy; t > 0 {
			xx, xy, yy = append(xx, g.xx/t), append(xy, g.xy/t), append(yy, g.yy/t)
		}
	}
	fwhm := starSize(regs, size, least(bin), w, h)
	s := RoundSeeing(fwhm * float64(bin))
	s.Bright = len(regs)
	s.Hollow = float64(hollow) / float64(len(regs))
	// Regions of a dozen pixels or fewer have no form worth the name.
	if fwhm >= 3.5 && s.Hollow < 0.5 {
		a, b, c := stats.Median(xx), stats.Median(xy), stats.Median(yy)
		if det := a*c - b*b; det > 0.002 {
			k := s.Xx / math.Sqrt(det)
			s.Xx, s.Xy, s.Yy = k*a, k*b, k*c
		}
	}
	return s
}
