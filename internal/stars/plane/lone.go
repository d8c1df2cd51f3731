package plane

import (
	"math"
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
// than most are kept.

const (
	loneHeight  = 8.0 // standard deviations of noise that a hot pixel stands up to be told
	sureHeight  = 20.0
	darkest     = 6    // of the pixels around
	darkestMean = -2.3 // their sum in noise alone, standard deviations: of eight, without the two highest
	darkestOver = 8.0  // standard deviations below what stars have, of which this sum scatters by three
	leastAround = 0.25 // of its height, what a sure star has around
	leastSure   = 7.0  // standard deviations, likewise: hot pixels have less, but for one in a thousand
	sharpAround = 0.4  // what is taken for granted where no stars tell
	broadAround = 1.2
	fewestSure  = 5  // stars that tell how much theirs have
	farMore     = 10 // times as many hot pixels as stars

	fewestOutnumbered = 3   // stars that tell among so many
	farthest          = 200 // times as many hot pixels, from which no stars tell
)

// suspect is a pixel that may be alone, its height and the light around it.
type suspect struct {
	at           int32
	high, around float32
}

// MaskLone masks the green pixels of a mosaic that shine alone, and lists them;
// limit is the least noise that can be told. It is to be called before red and blue
// are filled in.
func (p *Plane) MaskLone(limit float64) {
	p.Lone = p.Lone[:0]
	noise := max(p.diagonalNoise(), limit)
	if !(noise > 0) {
		return
	}
	var all suspects
	for y := 3; y < p.H-3; y++ {
		p.standUp(y, float32(noise*loneHeight*0.6), func(x int) { all.add(p.suspect(x, y, mosaicAround), noise) })
	}
	p.Lone = all.alone(p.Lone, all.usual())
	p.Mask(p.Lone)
}

// DropLone does so on other pictures, once their background is off, where the stars
// are plainly broader than a pixel. Where they are not a single frame cannot tell.
func (p *Plane) DropLone() {
	var all suspects
	half := &p.Halves[0]
	whole := Picture{Data: p.R, W: p.W, H: p.H}
	for _, at := range p.bright {
		x, y := int(at)%p.W, int(at)/p.W
		if p.lower(x, y) >= 7 && !p.bleeds(x, y) {
			all.add(p.suspect(x, y, plainAround), p.Mesh.NoiseAt(float64(x), float64(y)))
		}
	}
	usual := all.usual()
	if usual < broadAround {
		return
	}
	p.Lone = all.alone(p.Lone, usual)
	for _, i := range p.Lone {
		p.Bad.set(int(i))
		p.HasBad = true
	}
	for _, i := range p.Lone {
		x, y := int(i)%p.W, int(i)/p.W
		p.R[i] = p.around(x, y)
		half.sumOne(&whole, x/2, y/2)
	}
}

// noteBright notes the pixels of row y that stand up to what is needed, and that at
// most one of the pixels around them exceeds.
func (p *Plane) noteBright(y int, need []float32) {
	const margin = 4 // px: what is nearer to the edge has too little around
	if y < margin || y >= p.H-margin {
		return
	}
	row := p.R[y*p.W:][:p.W-margin]
	for x := margin; x < len(row); x++ {
		x += stats.NextReaching(row[x:], need)
		if x < len(row) && p.higher(x, y) <= 1 {
			p.bright = append(p.bright, int32(y*p.W+x))
		}
	}
}

// higher counts the pixels around one that are higher.
func (p *Plane) higher(x, y int) (n int) {
	v := p.R[y*p.W+x]
	for j := y - 1; j <= y+1; j++ {
		for _, o := range p.R[j*p.W+x-1:][:3] {
			if o > v {
				n++
			}
		}
	}
	return n
}

// lower counts the pixels around one that are lower.
func (p *Plane) lower(x, y int) (n int) {
	v := p.R[y*p.W+x]
	for j := y - 1; j <= y+1; j++ {
		for _, o := range p.R[j*p.W+x-1:][:3] {
			if o < v {
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

// suspects are the pixels of a frame that may be alone, and what its stars tell.
type suspects struct {
	list  []suspect
	stars []float64 // of those that are surely none, the share of their height around
	sure  int       // are sure to be
}

// add takes one in whose noise is known.
func (a *suspects) add(s suspect, noise float64) {
	high, around := float64(s.high)/noise, float64(s.around)/noise
	if high < loneHeight {
		return
	}
	if around < lonest(high, broadAround) {
		a.list = append(a.list, suspect{s.at, float32(high), float32(around)})
	}
	switch {
	case high < sureHeight:
	case around > max(leastAround*high, leastSure):
		a.stars = append(a.stars, around/high)
	default:
		a.sure++
	}
}

// alone appends those that are, where stars have the usual share of their height around.
func (a *suspects) alone(list []int32, usual float64) []int32 {
	for _, s := range a.list {
		if float64(s.around) < lonest(float64(s.high), usual) {
			list = append(list, s.at)
		}
	}
	return list
}

// usual is the light that stars have around, in their height, by the sure ones.
// Where hot pixels far outnumber these, the lowest may be some that have hot ones
// around, or tracks of particles; and where they are a few at most, what may be
// either is a hot pixel.
func (a *suspects) usual() float64 {
	outnumbered := a.sure > farMore*max(1, len(a.stars))
	switch {
	case outnumbered && len(a.stars) < max(fewestOutnumbered, a.sure/farthest):
		return broadAround
	case outnumbered:
		return min(stats.Median(a.stars), broadAround)
	case len(a.stars) >= fewestSure:
		return min(stats.Quantile(a.stars, 0.25), broadAround)
	}
	return sharpAround
}

// lonest is what a pixel so high has around it at most that is alone, in standard
// deviations of noise as the height, where stars have the usual share.
func lonest(high, usual float64) float64 {
	return min(0.5*usual*high+darkestMean, 0.8*usual*high-darkestOver)
}

// standUp calls found with the green pixels of a row that are higher by a step than
// three of the green ones next to them.
func (p *Plane) standUp(y int, step float32, found func(x int)) {
	above, row, below := p.R[(y+1)*p.W:][:p.W], p.R[y*p.W:][:p.W], p.R[(y-1)*p.W:][:p.W]
	for x := 3 + (p.Green+3+y)&1; x < p.W-3; x += 2 {
		v := row[x] - step
		if !(v > below[x-1]) && !(v > above[x+1]) {
			continue
		}
		higher := 0
		for _, o := range [4]float32{below[x-1], below[x+1], above[x-1], above[x+1]} {
			if v > o || o != o {
				higher++
			}
		}
		if higher >= 3 {
			found(x)
		}
	}
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
	var room [8]float32
	light := room[:0]
	for k, c := range parts {
		level := p.medianAt(at, c.level)
		if k == 0 {
			s.high = p.R[at] - level
		}
		for _, d := range c.near {
			if v := p.R[at+d[1]*p.W+d[0]] - level; v == v {
				light = append(light, v)
			}
		}
	}
	if len(light) < darkest {
		return suspect{} // beside a gap
	}
	slices.Sort(light)
	for _, v := range light[:darkest] {
		s.around += v
	}
	return s
}

// medianAt is the median of up to eight pixels around one, without those that hold
// no number.
func (p *Plane) medianAt(at int, offsets [][2]int) float32 {
	var room [8]float32
	v := room[:0]
	for _, d := range offsets {
		if o := p.R[at+d[1]*p.W+d[0]]; o == o {
			v = append(v, o)
		}
	}
	n := len(v)
	if n == 0 {
		return float32(math.NaN())
	}
	slices.Sort(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// diagonalNoise is the noise of a pixel by what green ones next to each other differ.
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
