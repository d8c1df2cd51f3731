package stars

import (
	"math"
	"slices"
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
func (p *plane) standOut(fwhm, threshold float64, found func(x, y int)) {
	bin := 1
	data, w, h := p.r, p.w, p.h
	for level := 0; float64(2*bin) <= 0.6*fwhm && min(w, h) >= 16; level++ {
		data, w, h = p.halved(level, data, w, h)
		bin *= 2
	}
	side := min(max(1, int(math.Round(1.1*fwhm/float64(bin)))), 4)
	s := windows{side: side, rows: make([][]float32, side), need: make([]float32, w+side-1)}
	for k := range s.rows {
		s.rows[k] = make([]float32, w+side-1)
	}
	for k := range s.sums {
		s.sums[k] = slices.Repeat([]float32{float32(math.Inf(-1))}, w+side+1)
	}
	limits := p.noiseBlocks(1, windowShare*threshold*float64(side*bin))
	cols := (p.w >> blockShift) + 1
	middle := func(i, size int) int { return min(max(0, (i-side+1)*bin+side*bin/2), size-1) }
	block := -1
	// Windows reach over the edge by all but one of their bins: a star at the
	// edge is seen by the part that is inside.
	for y := range h + side {
		s.slide(data, w, h, y)
		row := y - 1 // has both its neighbours now
		if row < 0 {
			continue
		}
		cy := middle(row, p.h)
		if b := cy >> blockShift; b != block {
			block = b
			for x := range s.need {
				s.need[x] = limits[b*cols+middle(x, p.w)>>blockShift]
			}
		}
		s.maxima(row, func(x int) { found(middle(x, p.w), cy) })
	}
}

// windows sums windows of side x side bins row by row.
type windows struct {
	side int
	rows [][]float32  // sums along x of the last rows of bins
	sums [3][]float32 // of the windows that end at the last three rows, with a place beyond either end
	need []float32    // what a window must reach
}

// slide takes in row y of the bins; rows beyond the last are empty.
func (s *windows) slide(data []float32, w, h, y int) {
	along := s.rows[y%s.side]
	clear(along)
	if y < h {
		line := data[y*w:][:w]
		for k := range s.side {
			for x, v := range line {
				along[k:][:w][x] += v
			}
		}
	}
	sum := s.sums[y%3][1:][:len(along)]
	if y >= h+s.side-1 {
		for x := range sum {
			sum[x] = float32(math.Inf(-1))
		}
		return
	}
	copy(sum, s.rows[0])
	for _, other := range s.rows[1:] {
		other = other[:len(sum)]
		for x := range sum {
			sum[x] += other[x]
		}
	}
}

// maxima calls found for the windows of a row that no neighbour exceeds.
func (s *windows) maxima(row int, found func(x int)) {
	below, here, above := s.sums[(row+2)%3], s.sums[row%3], s.sums[(row+1)%3]
	for x, need := range s.need {
		v := here[1:][x]
		if v < need {
			continue
		}
		if v >= here[x] && v >= here[x+2] &&
			v >= below[x] && v >= below[x+1] && v >= below[x+2] &&
			v >= above[x] && v >= above[x+1] && v >= above[x+2] {
			found(x)
		}
	}
}

// halved sums a picture over 2x2 px; the bins at odd edges hold what there is.
// Level tells the buffers of repeated halvings apart.
func (p *plane) halved(level int, data []float32, w, h int) ([]float32, int, int) {
	w2, h2 := (w+1)/2, (h+1)/2
	if level == len(p.halves) {
		p.halves = append(p.halves, nil)
	}
	out := p.halves[level]
	if cap(out) < w2*h2 {
		out = make([]float32, w2*h2)
	}
	out = out[:w2*h2]
	p.halves[level] = out
	for y := range h2 {
		dst := out[y*w2:][:w2]
		a := data[2*y*w:][:w]
		if 2*y+1 == h {
			for x := range dst {
				dst[x] = a[2*x]
				if 2*x+1 < w {
					dst[x] += a[2*x+1]
				}
			}
			continue
		}
		b := data[(2*y+1)*w:][:w]
		for x := range w / 2 {
			u, v := a[2*x:2*x+2:2*x+2], b[2*x:2*x+2:2*x+2]
			dst[x] = u[0] + u[1] + (v[0] + v[1])
		}
		if w%2 == 1 {
			dst[w2-1] = a[w-1] + b[w-1]
		}
	}
	return out, w2, h2
}
