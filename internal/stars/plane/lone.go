package plane

import (
	"math"
	"math/bits"
	"slices"

	"fitsqa/internal/stats"
)

// A pixel that shines alone is a hot one, unless the stars are as sharp as pixels. Of
// a mosaic this has to be seen before red and blue are filled in from green, which
// makes a star of it: no optics puts light into one green pixel and none into the
// red, blue and green ones around it.
//
// What is compared is the light of the six darkest of the eight pixels around, each
// above the level of its own colour, so that one or two hot neighbours do not hide a
// hot pixel. Of a Gaussian star's peak they hold 0.4 at 1.1 px FWHM, 0.9 at 1.5 px
// and over 1.2 from 1.7 px on, wherever in the pixel its middle lies, red and blue
// taken to be 0.6 of green. How much it is of the stars of this frame is told by the
// bright ones, where noise hides nothing; up to 1.2, that stars which are sharper
// than most are kept. Hot pixels that lie side by side by chance pass for stars among
// these: as many as shine likewise around other places of the frame are left out. Once
// the lone ones are masked, those that were hidden beside them stand alone.

const (
	loneHeight  = 6.0 // standard deviations of noise that a hot pixel stands up to be told
	sureHeight  = 20.0
	standsBy    = 3.6  // standard deviations by which a green one is above three of the four around
	margin      = 4    // px: what is nearer to the edge has too little around
	darkest     = 6    // of the pixels around
	darkestMean = -2.3 // their sum in noise alone, standard deviations: of eight, without the two highest
	darkestOver = 8.0  // standard deviations below what stars have
	darkestSD   = 3.0  // standard deviations that this sum scatters by
	leastAround = 0.25 // of its height, what a sure star has around
	leastSure   = 7.0  // standard deviations, likewise: hot pixels have less, but for one in a thousand
	sharpAround = 0.4  // what is taken for granted where no stars tell
	broadAround = 1.2
	pixelWide   = 0.8 // what stars of a pixel's width have; narrower ones may have none, by where they fall
	fewestSure  = 5   // stars that tell how much theirs have
	farMore     = 10  // times as many hot pixels as stars

	fewestOutnumbered = 3   // stars that tell among so many
	chanceSigma       = 2   // standard deviations by which chance may exceed what other places show
	farthest          = 100 // times as many hot pixels, from which none narrower than a pixel tell
	elsewhere         = 6   // px to these, across and up: even, as colours repeat
)

// suspect is a pixel that may be alone, its height and the light around it.
type suspect struct {
	at           int32
	high, around float32
}

// MaskLone masks the green pixels of a mosaic that shine alone, and lists them;
// limit is the least noise that can be measured. It is to be called before red and blue
// are filled in.
func (p *Plane) MaskLone(limit float64) {
	p.Lone = p.Lone[:0]
	noise := max(p.diagonalNoise(), limit)
	if !(noise > 0) {
		return
	}
	var all suspects
	for y := 3; y < p.H-3; y++ {
		p.standUp(y, float32(noise*standsBy), func(x int) { all.look(p, x, y, mosaicAround, noise) })
	}
	all.usual()
	p.Assumed = all.assumed
	p.Lone = all.alone(p.Lone)
	p.Mask(p.Lone)
	p.peel(&all, mosaicAround, func(x, y int) (float64, bool) { return noise, p.standsUp(x, y, float32(noise*standsBy)) })
}

// DropLone does so on other pictures, once their background is off, where the stars
// are plainly broader than a pixel, or at least as broad while hot pixels far outnumber
// them. Where they are not a single frame cannot tell.
func (p *Plane) DropLone() {
	var all suspects
	around := p.Around(2)
	for i, at := range p.bright {
		if i+8 < len(p.bright) { // most of these need only a glance
			around.fetchAt(int(p.bright[i+8]))
		}
		x, y := int(at)%p.W, int(at)/p.W
		if noise, ok := p.top(x, y); ok {
			all.look(p, x, y, plainAround, noise)
		}
	}
	if all.usual() < broadAround && !(all.outnumbered && all.share > pixelWide) {
		return
	}
	p.Assumed = all.assumed
	p.Lone = all.alone(p.Lone)
	p.Mask(p.Lone)
	p.peel(&all, plainAround, p.top)
	for _, i := range p.Lone {
		p.Bad.set(int(i))
		p.HasBad = true
	}
	for _, i := range p.Lone {
		p.fill(int(i))
	}
}

// top tells whether hardly a pixel around one is as high, and that it is no end of a
// column that a star bleeds along; and the noise there.
func (p *Plane) top(x, y int) (noise float64, ok bool) {
	if p.lower(x, y) < 7 || p.bleeds(x, y) {
		return 0, false
	}
	return p.Mesh.NoiseAt(float64(x), float64(y)), true
}

// peel masks what was hidden beside the lone pixels and stands alone without them, and
// what was hidden beside that. mayBe tells what may, and the noise there.
func (p *Plane) peel(all *suspects, parts []neighbourhood, mayBe func(x, y int) (noise float64, ok bool)) {
	for k := 0; k < len(p.Lone); k++ {
		x0, y0 := int(p.Lone[k])%p.W, int(p.Lone[k])/p.W
		for _, d := range parts[0].near {
			x, y := x0+d[0], y0+d[1]
			if v := p.R[y*p.W+x]; x < margin || y < margin || x >= p.W-margin || y >= p.H-margin || v != v {
				continue
			}
			noise, ok := mayBe(x, y)
			if !ok {
				continue
			}
			if s := p.suspect(x, y, parts); float64(s.high) >= loneHeight*noise && all.isAlone(s, noise) {
				p.R[s.at] = float32(math.NaN())
				p.Lone = append(p.Lone, s.at)
			}
		}
	}
}

// noteBright notes the high pixels of row y that at most one of the pixels around them
// exceeds.
func (p *Plane) noteBright(y int) {
	if y < margin || y >= p.H-margin {
		return
	}
	p.high.each(y, func(k int) {
		for some := p.high.at(y, k); some != 0; some &= some - 1 {
			x := k*piece + bits.TrailingZeros64(some)
			if x >= margin && x < p.W-margin && p.hardlyExceeded(x, y) {
				p.bright = append(p.bright, int32(y*p.W+x))
			}
		}
	})
}

// hardlyExceeded tells whether at most one of the pixels around one is higher. On the
// slope of a star two of the row that is looked at first mostly are.
func (p *Plane) hardlyExceeded(x, y int) bool {
	v := p.R[y*p.W+x]
	n := 0
	for j := y - 1; j <= y+1 && n <= 1; j++ {
		for _, o := range p.R[j*p.W+x-1:][:3] {
			if o > v {
				n++
			}
		}
	}
	return n <= 1
}

// lower counts the pixels around one that are lower, or hold no number.
func (p *Plane) lower(x, y int) (n int) {
	v := p.R[y*p.W+x]
	for j := y - 1; j <= y+1; j++ {
		for _, o := range p.R[j*p.W+x-1:][:3] {
			if o < v || o != o {
				n++
			}
		}
	}
	return n
}

// bleeds tells whether a saturated pixel has a saturated one beside it: the end of
// the column that a star bleeds along is no hot pixel.
func (p *Plane) bleeds(x, y int) bool {
	full := 0.9 * p.Saturation
	if p.LevelOf(x, y) < full {
		return false
	}
	n := 0
	for j := y - 1; j <= y+1; j++ {
		for i := x - 1; i <= x+1; i++ {
			if p.LevelOf(i, j) >= full {
				n++
			}
		}
	}
	return n > 1
}

type suspects struct {
	list   []suspect
	stars  []float64 // of those that are surely none, the share of their height around
	sure   int       // are sure to be
	chance int       // would be surely none by what shines around another place
	share  float64   // of its height, that a star has around
	odds   float64   // of lone pixels to stars

	assumed bool // the share

	outnumbered bool // far more lone pixels than stars
}

// look takes in a pixel that stands up from what is around it.
func (a *suspects) look(p *Plane, x, y int, parts []neighbourhood, noise float64) {
	s := p.suspect(x, y, parts)
	high, around := float64(s.high)/noise, float64(s.around)/noise
	if high < loneHeight {
		return
	}
	if around < lonest(high, broadAround, math.Inf(1)) {
		a.list = append(a.list, suspect{s.at, float32(high), float32(around)})
	}
	if high < sureHeight {
		return
	}
	if around > leastOfStar(high) {
		a.stars = append(a.stars, around/high)
		return
	}
	a.sure++
	ox, oy := x-elsewhere, y-elsewhere
	if ox < elsewhere {
		ox = x + elsewhere
	}
	if oy < elsewhere {
		oy = y + elsewhere
	}
	if other := float64(p.suspect(ox, oy, parts).around) / noise; other > leastOfStar(high) && other < broadAround*high {
		a.chance++
	}
}

// leastOfStar is the light around a pixel so high that no lone one has.
func leastOfStar(high float64) float64 { return max(leastAround*high, leastSure) }

// alone appends those of the list that are.
func (a *suspects) alone(list []int32) []int32 {
	for _, s := range a.list {
		if a.isAlone(s, 1) {
			list = append(list, s.at)
		}
	}
	return list
}

// isAlone tells whether one is, with heights of that noise.
func (a *suspects) isAlone(s suspect, noise float64) bool {
	return float64(s.around)/noise < lonest(float64(s.high)/noise, a.share, a.odds)
}

// usual is the light that stars have around, in their height, by the sure ones
// beyond those that chance makes of hot pixels. Where hot pixels far outnumber these,
// the lowest may be some that have hot ones around, or tracks of particles; and where
// they are a few at most, what may be either is a hot pixel.
func (a *suspects) usual() float64 {
	chance := float64(a.chance)
	if a.chance > 0 {
		chance += chanceSigma * math.Sqrt(chance)
	}
	slices.Sort(a.stars)
	told := a.stars[min(len(a.stars), int(math.Ceil(chance))):]
	a.odds = max(1, float64(a.sure)/float64(max(1, len(told))))
	a.outnumbered = a.sure > farMore*max(1, len(told))
	a.share, a.assumed = a.shareOf(told)
	return a.share
}

// shareOf is the usual one of those that are told for stars, and whether it is but
// assumed, as these are too few.
func (a *suspects) shareOf(told []float64) (share float64, assumed bool) {
	switch {
	case a.outnumbered && len(told) < fewestOutnumbered:
		return broadAround, true
	case a.outnumbered:
		share := min(stats.Median(told), broadAround)
		if share < pixelWide && farthest*len(told) < a.sure {
			return broadAround, true
		}
		return share, false
	case len(told) >= fewestSure:
		return min(stats.Quantile(told, 0.25), broadAround), false
	}
	return sharpAround, true
}

// lonest is what a pixel so high has around it at most that is alone, in standard
// deviations of noise as the height, where stars have the usual share and lone pixels
// outnumber them by these odds: of two normal distributions whose means are a distance
// apart, the odds shift the place of equal likelihood by variance ln(odds)/distance
// (Bayes' rule).
func lonest(high, usual, odds float64) float64 {
	shift := darkestSD * darkestSD * math.Log(odds) / (usual * high)
	return min(0.5*usual*high+darkestMean, 0.8*usual*high-darkestOver) + min(shift, 0.3*usual*high)
}

// standUp calls found with the green pixels of a row that are higher by a step than
// three of the green ones next to them.
func (p *Plane) standUp(y int, step float32, found func(x int)) {
	above, row, below := p.R[(y+1)*p.W:][:p.W], p.R[y*p.W:][:p.W], p.R[(y-1)*p.W:][:p.W]
	for x := 3 + (p.Green+3+y)&1; x < p.W-3; x += 2 {
		v := row[x] - step
		if (v > below[x-1] || v > above[x+1]) && p.standsUp(x, y, step) {
			found(x)
		}
	}
}

// standsUp tells whether a green pixel is higher by a step than three of the four
// green ones next to it, or these hold no number.
func (p *Plane) standsUp(x, y int, step float32) bool {
	above, below := p.R[(y+1)*p.W+x-1:][:3], p.R[(y-1)*p.W+x-1:][:3]
	v, higher := p.R[y*p.W+x]-step, 0
	for _, o := range [4]float32{below[0], below[2], above[0], above[2]} {
		if v > o || o != o {
			higher++
		}
	}
	return higher >= 3
}

// neighbourhood is pixels around one, and those that tell their level.
type neighbourhood struct{ near, level [][2]int }

// Those of any pixel, and of a green one colour by colour.
var plainAround = []neighbourhood{{
	[][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}},
	[][2]int{{-2, 0}, {2, 0}, {0, -2}, {0, 2}, {-2, -2}, {2, -2}, {-2, 2}, {2, 2}},
}}

var mosaicAround = []neighbourhood{
	{[][2]int{{-1, -1}, {1, -1}, {-1, 1}, {1, 1}}, [][2]int{{-2, 0}, {2, 0}, {0, -2}, {0, 2}, {-2, -2}, {2, -2}, {-2, 2}, {2, 2}}},
	{[][2]int{{-1, 0}, {1, 0}}, [][2]int{{-1, -2}, {1, -2}, {-1, 2}, {1, 2}, {-3, 0}, {3, 0}}},
	{[][2]int{{0, -1}, {0, 1}}, [][2]int{{-2, -1}, {2, -1}, {-2, 1}, {2, 1}, {0, -3}, {0, 3}}},
}

// suspect looks at what a pixel has around it; its own level is the first one's.
func (p *Plane) suspect(x, y int, parts []neighbourhood) suspect {
	at := y*p.W + x
	s := suspect{at: int32(at)}
	light, n := unsorted, 0
	for k, c := range parts {
		level := p.medianAt(at, c.level)
		if k == 0 {
			s.high = p.R[at] - level
		}
		for _, d := range c.near {
			if v := p.R[at+d[1]*p.W+d[0]] - level; v == v {
				light[n] = v
				n++
			}
		}
	}
	if n < darkest {
		return suspect{} // beside a gap
	}
	sortEight(&light)
	for _, v := range light[:darkest] {
		s.around += v
	}
	return s
}

// medianAt is the median of up to eight pixels around one, without those that hold
// no number.
func (p *Plane) medianAt(at int, offsets [][2]int) float32 {
	v, n := unsorted, 0
	for _, d := range offsets {
		if o := p.R[at+d[1]*p.W+d[0]]; o == o {
			v[n] = o
			n++
		}
	}
	if n == 0 {
		return float32(math.NaN())
	}
	sortEight(&v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

var inf = float32(math.Inf(1))

// unsorted is room for up to eight numbers; places that hold none sort to the end.
var unsorted = [8]float32{inf, inf, inf, inf, inf, inf, inf, inf}

// sortEight sorts by the network of least comparisons (Knuth, The Art of Computer
// Programming 3, 5.3.4): a processor cannot guess how noise is ordered.
func sortEight(v *[8]float32) {
	v0, v2 := min(v[0], v[2]), max(v[0], v[2])
	v1, v3 := min(v[1], v[3]), max(v[1], v[3])
	v4, v6 := min(v[4], v[6]), max(v[4], v[6])
	v5, v7 := min(v[5], v[7]), max(v[5], v[7])
	v0, v4 = min(v0, v4), max(v0, v4)
	v1, v5 = min(v1, v5), max(v1, v5)
	v2, v6 = min(v2, v6), max(v2, v6)
	v3, v7 = min(v3, v7), max(v3, v7)
	v0, v1 = min(v0, v1), max(v0, v1)
	v2, v3 = min(v2, v3), max(v2, v3)
	v4, v5 = min(v4, v5), max(v4, v5)
	v6, v7 = min(v6, v7), max(v6, v7)
	v2, v4 = min(v2, v4), max(v2, v4)
	v3, v5 = min(v3, v5), max(v3, v5)
	v1, v4 = min(v1, v4), max(v1, v4)
	v3, v6 = min(v3, v6), max(v3, v6)
	v1, v2 = min(v1, v2), max(v1, v2)
	v3, v4 = min(v3, v4), max(v3, v4)
	v5, v6 = min(v5, v6), max(v5, v6)
	*v = [8]float32{v0, v1, v2, v3, v4, v5, v6, v7}
}

func (p *Plane) diagonalNoise() float64 {
	const samples = 20000
	step := max(1, int(math.Sqrt(float64(p.W)*float64(p.H)/2/samples)))
	var differ []float64
	for y := 0; y < p.H-1; y += step {
		for x := (p.Green + y) & 1; x < p.W-1; x += 2 * step {
			if d := float64(p.R[y*p.W+x] - p.R[(y+1)*p.W+x+1]); d-d == 0 {
				differ = append(differ, math.Abs(d))
			}
		}
	}
	return stats.MedianInPlace(differ) / 0.6745 / math.Sqrt2 // of the absolute difference of two
}
