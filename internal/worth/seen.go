package worth

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// Seen gathers corrected subs in the sensor's own coordinates, in two
// interleaved halves: what both halves have in common where stars are masked is
// the sensor's, for the photons of two halves know nothing of each other.
type Seen struct {
	frameWidth    int   // px
	frameHeight   int   // px
	block         int   // rows of a block
	firstRow      []int // of every block
	side          int   // of the cells in which a glow is looked for, px of a plane
	cols, rows    int   // such cells of a block
	width, height int   // of one plane, a block of one colour, px
	planes        int
	mosaic        bool
	part          float64
	rowOf         map[int]int // row of the frame: row looked at
	halves        [2]half
	subs          int
	cells         []float64 // e-, sum over the subs of the cells' levels
	maps          []cellMap // of the subs
}

type half struct {
	sum  []float32 // e-, above the local background
	n    []uint8   // subs in it
	subs int
}

// cellSide of the background mesh, px; maskSigma is how many sigma of the mean
// of seven neighbours mark a star, which is broader than a pixel; maskReach how
// far around it nothing is used, px.
const (
	cellSide  = 32
	maskSigma = 4
	maskReach = 4
)

// NewSeen makes room for subs of which the given rows of a frame of width by
// height px are looked at, in blocks of so many rows that follow each other (all
// blocks as high, even for a mosaic, which is of a colour sensor).
func NewSeen(width, height int, rows []int, block int, mosaic bool) *Seen {
	s := &Seen{frameWidth: width, frameHeight: height, width: width, height: block, block: block, planes: len(rows) / block, mosaic: mosaic,
		part: float64(len(rows)) / float64(height), rowOf: map[int]int{}}
	for i, y := range rows {
		s.rowOf[y] = i
		if i%block == 0 {
			s.firstRow = append(s.firstRow, y)
		}
	}
	if mosaic {
		s.width, s.height, s.planes = width/2, block/2, 4*s.planes
	}
	s.side = min(max(s.width/40, cellSide/2), cellSide, max(s.height/2, 1)) // a block has two rows of cells at least
	s.cols, s.rows = max(1, s.width/s.side), max(1, s.height/s.side)
	for i := range s.halves {
		s.halves[i].sum = make([]float32, s.width*s.height*s.planes)
		s.halves[i].n = make([]uint8, s.width*s.height*s.planes)
	}
	return s
}

// Add takes in a sub: its rows in e-, and where it lies, nil when that is not known.
func (s *Seen) Add(rows []float32, at *Place) {
	h := &s.halves[s.subs%2]
	h.subs++
	s.subs++
	size := s.width * s.height
	var levels []float64 // of the sub's cells without stars
	for p := range s.planes {
		plane := rows
		if s.mosaic {
			plane = phase(rows[p/4*s.block*s.frameWidth:][:s.block*s.frameWidth], s.frameWidth, p%4)
		} else {
			plane = rows[p*size:][:size]
		}
		levels = append(levels, s.addPlane(h, plane, p)...)
	}
	s.addMap(levels, at)
}

// addMap keeps the levels of a sub's cells, those of a mosaic's colours in one.
func (s *Seen) addMap(levels []float64, at *Place) {
	colours := 1
	if s.mosaic {
		colours = 4
	}
	size := len(levels) / s.planes
	one := make([]float64, len(levels)/colours)
	for i, v := range levels {
		one[i/size/colours*size+i%size] += v / float64(colours)
	}
	m := cellMap{levels: one}
	if at != nil {
		m.place, m.tied = *at, true
	}
	s.maps = append(s.maps, m)
}

// phase is one of the four colours of a mosaic.
func phase(rows []float32, width, p int) []float32 {
	out := make([]float32, 0, len(rows)/4)
	for y := p / 2; y+1-p/2 < len(rows)/width; y += 2 {
		for x := p % 2; x+1-p%2 < width; x += 2 {
			out = append(out, rows[y*width+x])
		}
	}
	return out
}

// addPlane takes in one block of one colour, and gives its cells' levels.
func (s *Seen) addPlane(h *half, plane []float32, p int) (levels []float64) {
	mesh := newMesh(plane, s.width, s.height)
	first := p * len(plane)
	rest := make([]float32, len(plane))
	for i, v := range plane {
		rest[i] = v - mesh.at(i%s.width, i/s.width)
	}
	masked := stars(rest, s.width, s.height)
	for i, v := range rest {
		if !masked[i] && !isNaN(v) && h.n[first+i] < math.MaxUint8 {
			h.sum[first+i] += v
			h.n[first+i]++
		}
	}
	if s.cells == nil {
		s.cells = make([]float64, len(mesh.cells)*s.planes)
	}
	for i, c := range mesh.cells {
		s.cells[p*len(mesh.cells)+i] += float64(c)
	}
	return s.levels(mesh, rest, masked)
}

// levels of the cells without stars: rest is what stands above the mesh.
func (s *Seen) levels(m mesh, rest []float32, masked []bool) (levels []float64) {
	some := make([]float32, 0, 4*s.side*s.side)
	for j := range s.rows {
		top, end := j*s.height/s.rows, (j+1)*s.height/s.rows
		for i := range s.cols {
			left, right := i*s.width/s.cols, (i+1)*s.width/s.cols
			some = some[:0]
			var under, n float64
			for y := top; y < end; y++ {
				for x := left; x < right; x++ {
					if k := y*s.width + x; !masked[k] && !isNaN(rest[k]) {
						some = append(some, rest[k])
					}
					under, n = under+float64(m.at(x, y)), n+1
				}
			}
			level := under / n
			if 4*len(some) > s.side*s.side {
				level += stats.Median(some)
			}
			levels = append(levels, level)
		}
	}
	return levels
}

// mesh is a background in cells, bilinear between their centres.
type mesh struct {
	cells []float32
	w, h  int
}

func newMesh(plane []float32, width, height int) mesh {
	m := mesh{w: max(1, width/cellSide), h: max(1, height/cellSide)}
	cell := make([]float32, 0, 4*cellSide*cellSide)
	for j := range m.h {
		for i := range m.w {
			cell = cell[:0]
			for y := j * height / m.h; y < (j+1)*height/m.h; y++ {
				cell = append(cell, plane[y*width+i*width/m.w:y*width+(i+1)*width/m.w]...)
			}
			m.cells = append(m.cells, float32(stats.Median(valued(cell))))
		}
	}
	usual := float32(stats.Median(valued(slices.Clone(m.cells))))
	for i, v := range m.cells { // beside a part without values the others are as they were
		if isNaN(v) {
			m.cells[i] = usual
		}
	}
	return m
}

func isNaN(v float32) bool { return v != v }

// valued are the numbers among x, in its place.
func valued(x []float32) []float32 { return slices.DeleteFunc(x, isNaN) }

func (m mesh) at(x, y int) float32 {
	fx := min(max((float32(x)+0.5)/cellSide-0.5, 0), float32(m.w-1))
	fy := min(max((float32(y)+0.5)/cellSide-0.5, 0), float32(m.h-1))
	i, j := min(int(fx), max(m.w-2, 0)), min(int(fy), max(m.h-2, 0))
	i1, j1 := min(i+1, m.w-1), min(j+1, m.h-1)
	u, v := fx-float32(i), fy-float32(j)
	return (1-v)*((1-u)*m.cells[j*m.w+i]+u*m.cells[j*m.w+i1]) + v*((1-u)*m.cells[j1*m.w+i]+u*m.cells[j1*m.w+i1])
}

// stars marks what is broader than a pixel. The highest of a pixel's neighbours
// does not count: a hot pixel is no star.
func stars(rest []float32, width, height int) []bool {
	limit := float32(maskSigma * stats.MADSigma(valued(slices.Clone(rest))) / math.Sqrt(7))
	masked := make([]bool, len(rest))
	for y := 1; y < height-1; y++ {
		for x := 1; x < width-1; x++ {
			i := y*width + x
			sum, top := float32(0), float32(math.Inf(-1))
			for _, k := range [8]int{i - width - 1, i - width, i - width + 1, i - 1, i + 1, i + width - 1, i + width, i + width + 1} {
				sum += rest[k]
				top = max(top, rest[k])
			}
			masked[i] = (sum-top)/7 > limit
		}
	}
	return grown(grown(masked, width, 1), width, width)
}

// grown marks what lies within reach along one direction of what is marked.
func grown(marked []bool, width, step int) []bool {
	out := slices.Clone(marked)
	for i, m := range marked {
		if !m {
			continue
		}
		for d := -maskReach; d <= maskReach; d++ {
			k := i + d*step
			if k >= 0 && k < len(out) && (step > 1 || k/width == i/width) {
				out[k] = true
			}
		}
	}
	return out
}

// common is what the halves have in common.
type common struct {
	square, squareErr float64 // e-², white from pixel to pixel
	sigma             [2]float64
	leak              float64   // e-², of the sky's structure that may be in square
	hot               []float64 // e-, of pixels that stand out in both halves, above and below
	present           float64   // share of the pixels that no star hides
	n                 int       // pixels used
}

// hotInBoth is how many sigma a pixel stands out in each half to be hot: of
// 10^8 pixels none does so in both by chance.
const hotInBoth = 4.5

// sharpest is what that carrying on misses of stars of 1.5 px FWHM, the sharpest
// there are, over the fall of their covariance from one pixel to two: with a
// Gaussian of sigma 0.64 px the covariances at 0, 1 and 2 px are as 1, 0.54 and 0.09.
const sharpest = 0.7

// quietSigma is how many sigma of the mean of both halves a pixel may stand off
// at least to count as one of the many: those beyond stand out of the stack as
// hot ones. Of normal noise practically nothing is cut there.
const quietSigma = standsOut

// common compares the halves. The sky's structure is smooth over the pixels: its
// covariance at distances of one and two pixels is carried on to none
// (a parabola through both), and taken off. Pixels count up to the limit, e-.
//
// With m half the sum and d half the difference of both halves, their product
// is m² - d²: where the noise of the halves is alike both hold the same noise,
// however uneven it is over the frame. A pixel is left out for a large m or
// for a large d, so that what is cut of the noise goes off alike, too.
func (s *Seen) common(limit float64) common {
	var mean [2][]float32
	var c common
	for k := range s.halves {
		mean[k] = s.halves[k].mean()
		c.sigma[k] = stats.MADSigma(present(mean[k]))
	}
	middle := make([]float32, len(mean[0]))
	for i := range middle {
		middle[i] = (mean[0][i] + mean[1][i]) / 2
	}
	limit = max(limit, quietSigma*stats.MADSigma(present(middle)))
	quiet := s.evenCells(middle)
	for i, m := range middle {
		if m == m { // not NaN
			c.present += 1 / float64(len(middle))
		}
		a, b := float64(mean[0][i]), float64(mean[1][i])
		quiet[i] = quiet[i] && math.Abs(float64(m)) < limit && math.Abs(a-b)/2 < limit // false for NaN
		if math.Abs(a) > hotInBoth*c.sigma[0] && math.Abs(b) > hotInBoth*c.sigma[1] && a*b > 0 {
			c.hot = append(c.hot, (a+b)/2)
		}
	}
	at0, at1, at2 := s.products(mean, quiet)
	c.n = int(at0.n)
	c.square = at0.mean() - (4*at1.mean()-at2.mean())/3
	c.leak = sharpest * max(at1.mean()-at2.mean(), 0)
	c.squareErr = math.Hypot(at0.err(), math.Hypot(4*at1.err(), at2.err())/3)
	return c
}

// unevenCell is how many times the usual scatter that of a cell is in which light
// falls off so steeply that the mesh does not follow it.
const unevenCell = 1.25

// evenCells marks the pixels of cells that are about as noisy as most.
func (s *Seen) evenCells(middle []float32) []bool {
	size := s.width * s.height
	cellOf := func(i int) int {
		x, y := i%size%s.width, i%size/s.width
		return (i/size*(s.height/cellSide+1)+y/cellSide)*(s.width/cellSide+1) + x/cellSide
	}
	cells := make([][]float32, cellOf(len(middle)-1)+1)
	for i, m := range middle {
		if m == m { // not NaN
			cells[cellOf(i)] = append(cells[cellOf(i)], m)
		}
	}
	scatter := make([]float64, len(cells))
	var usual []float64
	for c, pixels := range cells {
		scatter[c] = math.Inf(1)
		if len(pixels) >= cellSide {
			scatter[c] = stats.MADSigma(pixels)
			usual = append(usual, scatter[c])
		}
	}
	limit := unevenCell * stats.Median(usual)
	even := make([]bool, len(middle))
	for i := range even {
		even[i] = scatter[cellOf(i)] <= limit
	}
	return even
}

// products are those of the halves at the same pixel, and at pixels one and two
// apart along rows and columns.
func (s *Seen) products(mean [2][]float32, quiet []bool) (at0, at1, at2 sum) {
	size := s.width * s.height
	for i, ok := range quiet {
		if !ok {
			continue
		}
		a, b := float64(mean[0][i]), float64(mean[1][i])
		at0.add(a * b)
		x, y := i%size%s.width, i%size/s.width
		for d, at := range []*sum{&at1, &at2} {
			d++
			if x+d < s.width && quiet[i+d] {
				at.add((a*float64(mean[1][i+d]) + b*float64(mean[0][i+d])) / 2)
			}
			if k := i + d*s.width; y+d < s.height && quiet[k] {
				at.add((a*float64(mean[1][k]) + b*float64(mean[0][k])) / 2)
			}
		}
	}
	return at0, at1, at2
}

// mean of every pixel that most subs of the half show; NaN elsewhere.
func (h *half) mean() []float32 {
	out := make([]float32, len(h.sum))
	for i := range out {
		out[i] = float32(math.NaN())
		if n := int(h.n[i]); n > 0 && 2*n >= h.subs {
			out[i] = h.sum[i] / float32(n)
		}
	}
	return out
}

func present(x []float32) []float32 {
	return slices.DeleteFunc(slices.Clone(x), func(v float32) bool { return math.IsNaN(float64(v)) })
}

// sum is a mean on its way.
type sum struct{ n, x, xx float64 }

func (s *sum) add(v float64) { s.n++; s.x += v; s.xx += v * v }

func (s *sum) mean() float64 { return s.x / s.n }

func (s *sum) err() float64 { return math.Sqrt((s.xx/s.n - s.mean()*s.mean()) / s.n) }
