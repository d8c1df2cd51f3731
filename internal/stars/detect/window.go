package detect

import (
	"math"
	"slices"

	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// windowShare is the share of the filter's significance at which a window is
// worth a look. A square window of 1.1 FWHM that lies up to 0.3 FWHM off in both
// directions sees a round Gaussian star at no less than 0.67 of it; what is below
// that leaves room for the window's own noise.
const windowShare = 0.6

// standOut calls found with the middle of every square window that is brighter
// than its neighbours and than windowShare times threshold times its noise.
// Windows are 1 to 4 bins wide; bins are 1, 2, 4 ... px, up to 0.6 FWHM, so that
// broad stars cost no more than narrow ones.
func standOut(p *plane.Plane, fwhm, threshold float64, found func(x, y int)) {
	bin := 1
	pic := plane.Picture{Data: p.R, W: p.W, H: p.H}
	for level := 0; float64(2*bin) <= 0.6*fwhm && min(pic.W, pic.H) >= 16; level++ {
		pic = halved(p, level, pic)
		bin *= 2
	}
	side := min(max(1, int(math.Round(1.1*fwhm/float64(bin)))), 4)
	s := newWindows(side, pic.W)
	limits := noiseBlocks(p, 1, windowShare*threshold*float64(side*bin))
	cols := (p.W >> blockShift) + 1
	middle := func(i, size int) int { return min(max(0, (i-side+1)*bin+side*bin/2), size-1) }
	block := -1
	// Windows reach over the edge by all but one of their bins: a star at the
	// edge is seen by the part that is inside.
	for y := range pic.H + side {
		if b := middle(y, p.H) >> blockShift; b != block {
			block = b
			for x := range s.need {
				s.need[x] = limits[b*cols+middle(x, p.W)>>blockShift]
			}
		}
		s.slide(pic, y)
		if y > 0 { // the row before has both its neighbours now
			cy := middle(y-1, p.H)
			s.maxima(y-1, func(x int) { found(middle(x, p.W), cy) })
		}
	}
}

// windows sums windows of side x side bins row by row.
type windows struct {
	side int
	rows [][]float32  // sums along x of the last rows of bins
	sums [3][]float32 // of the windows that end at the last three rows, with a place beyond either end
	need []float32    // what a window must reach
	over [3][]int     // the windows that do, in the last three rows
}

func newWindows(side, w int) *windows {
	s := &windows{side: side, rows: make([][]float32, side), need: make([]float32, w+side-1)}
	for k := range s.rows {
		s.rows[k] = make([]float32, w+side-1)
	}
	for k := range s.sums {
		s.sums[k] = slices.Repeat([]float32{float32(math.Inf(-1))}, w+side+1)
	}
	return s
}

// slide takes in row y of the bins; rows beyond the last are empty.
func (s *windows) slide(pic plane.Picture, y int) {
	sum := s.sums[y%3][1:][:len(s.need)]
	s.over[y%3] = s.over[y%3][:0]
	if y >= pic.H+s.side-1 {
		for x := range sum {
			sum[x] = float32(math.Inf(-1))
		}
		return
	}
	along := s.rows[y%s.side]
	clear(along)
	if y < pic.H {
		for k := range s.side {
			stats.AddRow(along[k:], pic.Row(y))
		}
	}
	copy(sum, s.rows[0])
	for _, other := range s.rows[1:] {
		stats.AddRow(sum, other)
	}
	for x := stats.NextReaching(sum, s.need); x < len(sum); x++ {
		s.over[y%3] = append(s.over[y%3], x)
		x += stats.NextReaching(sum[x+1:], s.need[x+1:])
	}
}

// maxima calls found for the windows of a row that no neighbour exceeds.
func (s *windows) maxima(row int, found func(x int)) {
	below, here, above := s.sums[(row+2)%3], s.sums[row%3], s.sums[(row+1)%3]
	for _, x := range s.over[row%3] {
		v := here[x+1]
		if v >= here[x] && v >= here[x+2] &&
			v >= below[x] && v >= below[x+1] && v >= below[x+2] &&
			v >= above[x] && v >= above[x+1] && v >= above[x+2] {
			found(x)
		}
	}
}

// halved sums a picture over 2x2 px; the bins at odd edges hold what there is.
// Level tells repeated halvings apart; the first was made with the background.
func halved(p *plane.Plane, level int, pic plane.Picture) plane.Picture {
	if level == 0 {
		return p.Halves[0]
	}
	if level == len(p.Halves) {
		p.Halves = append(p.Halves, plane.Picture{})
	}
	half := &p.Halves[level]
	half.Resize((pic.W+1)/2, (pic.H+1)/2)
	for y := range half.H {
		half.SumRow(&pic, y)
	}
	return *half
}
