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
	pic := newBins(p)
	for float64(2*pic.size) <= 0.6*fwhm && min(pic.w, pic.h) >= 16 {
		pic = pic.halved()
	}
	bin := pic.size
	side := min(max(1, int(math.Round(1.1*fwhm/float64(bin)))), 4)
	s := newWindows(side, pic.w)
	limits := noiseBlocks(p, 1, windowShare*threshold*float64(side*bin))
	cols := (p.W >> blockShift) + 1
	middle := func(i, size int) int { return min(max(0, (i-side+1)*bin+side*bin/2), size-1) }
	around := p.Around(1.2*fwhm + 1)
	block := -1
	// Windows reach over the edge by all but one of their bins: a star at the
	// edge is seen by the part that is inside.
	for y := range pic.h + side {
		if b := middle(y, p.H) >> blockShift; b != block {
			block = b
			for x := range s.need {
				s.need[x] = limits[b*cols+middle(x, p.W)>>blockShift]
			}
		}
		s.slide(pic, y)
		if y > 0 { // the row before has both its neighbours now
			cy := middle(y-1, p.H)
			tops := s.maxima(y - 1)
			for _, x := range tops[:min(len(tops), 4)] {
				around.Fetch(middle(x, p.W), cy)
			}
			for i, x := range tops {
				if i+4 < len(tops) {
					around.Fetch(middle(tops[i+4], p.W), cy)
				}
				found(middle(x, p.W), cy)
			}
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
	tops []int        // of them those that no neighbour exceeds, see maxima
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
func (s *windows) slide(pic *bins, y int) {
	sum := s.sums[y%3][1:][:len(s.need)]
	s.over[y%3] = s.over[y%3][:0]
	if y >= pic.h+s.side-1 {
		for x := range sum {
			sum[x] = float32(math.Inf(-1))
		}
		return
	}
	along := s.rows[y%s.side]
	if y < pic.h {
		s.sumAlong(along, pic.row(y))
	} else {
		clear(along)
	}
	stats.SumRows(sum, s.rows...)
	for x := stats.NextReaching(sum, s.need); x < len(sum); x++ {
		s.over[y%3] = append(s.over[y%3], x)
		x += stats.NextReaching(sum[x+1:], s.need[x+1:])
	}
}

// sumAlong sums a row over the windows that end at each of its bins, or beyond it.
func (s *windows) sumAlong(dst, row []float32) {
	last := s.side - 1
	var shifted [4][]float32
	for k := range s.side {
		shifted[k] = row[last-k:]
	}
	stats.SumRows(dst[last:len(row)], shifted[:s.side]...)
	for i := range last { // at either end some bins lie outside
		var left, right float32
		for k := range s.side {
			if i >= k {
				left += row[i-k]
			} else {
				right += row[len(row)+i-k]
			}
		}
		dst[i], dst[len(row)+i] = left, right
	}
}

// maxima are the windows of a row that no neighbour exceeds, until the next are asked for.
func (s *windows) maxima(row int) []int {
	s.tops = s.tops[:0]
	below, here, above := s.sums[(row+2)%3], s.sums[row%3], s.sums[(row+1)%3]
	for _, x := range s.over[row%3] {
		v := here[x+1]
		if v >= here[x] && v >= here[x+2] &&
			v >= below[x] && v >= below[x+1] && v >= below[x+2] &&
			v >= above[x] && v >= above[x+1] && v >= above[x+2] {
			s.tops = append(s.tops, x)
		}
	}
	return s.tops
}

// bins are a picture's pixels, or their sums over 2x2 px, 4x4 and so on. The sums are made
// when a row is asked for, and not kept, so that the picture passes through the processor
// once, and what is found is looked at while it is there.
type bins struct {
	p    *plane.Plane
	size int // px
	w, h int
	of   *bins        // that the sums are of; nil: pixels
	rows [2][]float32 // the last even and odd one
}

func newBins(p *plane.Plane) *bins { return &bins{p: p, size: 1, w: p.W, h: p.H} }

// halved are sums over 2x2 bins; those at odd edges hold what there is.
func (b *bins) halved() *bins {
	half := &bins{p: b.p, size: 2 * b.size, w: (b.w + 1) / 2, h: (b.h + 1) / 2, of: b}
	for i := range half.rows {
		half.rows[i] = make([]float32, half.w)
	}
	return half
}

// row is row y, until the one after the next is asked for.
func (b *bins) row(y int) []float32 {
	if b.of == nil {
		return b.p.R[y*b.w:][:b.w]
	}
	sums, below := b.rows[y%2], b.of.row(2*y)
	if 2*y+1 == b.of.h {
		clear(sums)
		for x, v := range below {
			sums[x/2] += v
		}
		return sums
	}
	above := b.of.row(2*y + 1)
	stats.AddPairs(sums[:b.of.w/2], below, above)
	if b.of.w%2 == 1 {
		sums[b.w-1] = below[b.of.w-1] + above[b.of.w-1]
	}
	return sums
}
