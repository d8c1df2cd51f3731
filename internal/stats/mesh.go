package stats

import "slices"

// Mesh is a smooth background and its noise, known at the centres of square
// cells of a picture and interpolated between them.
//
// Model: within a cell the background is flat and its samples are normal, with
// a minority of outliers, mostly upward (stars). The level is the mode of the
// samples left by 3-sigma clipping, by Pearson's relation mode = 3 median - 2
// mean (Kendall and Stuart 1977, The Advanced Theory of Statistics 1, from
// memory), taken half way (2 median - mean) to keep its noise low. The noise is
// their standard deviation, corrected for the clipping. Where the first
// estimate of the noise is needed it comes from the samples below the median,
// which stars do not reach.
type Mesh struct {
	Width, Height int // px of the picture
	Cols, Rows    int
	Level, Noise  []float32 // one a cell, row by row
	Valid         []bool    // false: the cell held too few samples and was filled from its neighbours
	Step          float32   // of the samples' converter; 0 where unknown

	samples [][]float32 // of the cells of a row
	asked   []int       // how many pixels were looked at for them
	tally   tally
	spare   []float32
	nodes   []float32 // level of every row of cells at the nodes of a row of pixels
	at      []float32 // that of a row of pixels
}

// MeshCell is the side of a cell that suits a picture: an eighth of its short
// side, but no less than 64 px, so that no star fills a cell, and no more than
// 128 px, so that vignetting is followed.
func MeshCell(w, h int) int { return min(max(min(w, h)/8, 64), 128) }

// Fit estimates the mesh from a sample of the pixels, about one in step² of
// them. NaN pixels and those that skip (when not nil) names are left out; skip
// is asked with the index of a pixel.
func (m *Mesh) Fit(data []float32, w, h, cell, step int, skip func(int) bool) {
	m.Width, m.Height = w, h
	m.Cols, m.Rows = max(1, (w+cell/2)/cell), max(1, (h+cell/2)/cell)
	n := m.Cols * m.Rows
	m.Level, m.Noise, m.Valid = resized(m.Level, n), resized(m.Noise, n), resized(m.Valid, n)
	for j := range m.Rows {
		m.sampleRow(data, j, step, skip)
		for i := range m.Cols {
			c, samples := j*m.Cols+i, m.samples[i]
			m.Valid[c] = len(samples) >= 16 && len(samples)*5 >= m.asked[i]
			if m.Valid[c] {
				m.spare = resized(m.spare, len(samples))
				if m.tally.sort(m.spare, samples) {
					samples = m.spare
				} else {
					radixSort(samples, m.spare)
				}
				m.Level[c], m.Noise[c] = modeOfSorted(samples, m.Step)
			}
		}
	}
	m.fill()
	m.layNodes()
}

// sampleRow gathers the samples of the cells of row j, row after row of the picture, as
// these lie in memory.
func (m *Mesh) sampleRow(data []float32, j, step int, skip func(int) bool) {
	w := m.Width
	m.samples, m.asked = slices.Grow(m.samples[:0], m.Cols)[:m.Cols], resized(m.asked, m.Cols)
	for i := range m.samples {
		m.samples[i] = m.samples[i][:0]
	}
	for y, k := j*m.Height/m.Rows, 0; y < (j+1)*m.Height/m.Rows; y, k = y+step, k+1 {
		row := data[y*w:][:w]
		for i, samples := range m.samples {
			// The start shifts from row to row so that no column pattern is sampled
			// in step.
			from, to := i*w/m.Cols+(k*(step/2+1))%step, (i+1)*w/m.Cols
			n := len(samples)
			samples = slices.Grow(samples, (to-from)/step+1)
			samples = samples[:cap(samples)]
			for x := from; x < to; x += step {
				if v := row[x]; v == v && (skip == nil || !skip(y*w+x)) {
					samples[n] = v
					n++
				}
			}
			m.samples[i] = samples[:n]
			m.asked[i] += max(0, (to-from+step-1)/step)
		}
	}
}

// fill gives cells without a figure the mean of their neighbours that have
// one, ring after ring.
func (m *Mesh) fill() {
	known := append([]bool(nil), m.Valid...)
	for {
		var empty []int
		any := false
		for c, k := range known {
			any = any || k
			if !k {
				empty = append(empty, c)
			}
		}
		if len(empty) == 0 || !any {
			return
		}
		var filled []int
		for _, c := range empty {
			var level, noise, n float32
			m.neighbours(c, func(o int) {
				if known[o] {
					level += m.Level[o]
					noise += m.Noise[o]
					n++
				}
			})
			if n > 0 {
				m.Level[c], m.Noise[c] = level/n, noise/n
				filled = append(filled, c)
			}
		}
		for _, c := range filled {
			known[c] = true
		}
	}
}

// neighbours calls f for the up to eight cells around cell c.
func (m *Mesh) neighbours(c int, f func(int)) {
	ci, cj := c%m.Cols, c/m.Cols
	for j := max(0, cj-1); j <= min(m.Rows-1, cj+1); j++ {
		for i := max(0, ci-1); i <= min(m.Cols-1, ci+1); i++ {
			if o := j*m.Cols + i; o != c {
				f(o)
			}
		}
	}
}

// RaiseNoise gives every cell at least the noise that its samples can tell: on a
// grid of the converter those of a quiet cell are all alike.
func (m *Mesh) RaiseNoise(least float32) {
	for c, v := range m.Noise {
		m.Noise[c] = max(v, least)
	}
}

// Any tells whether a single cell could be measured.
func (m *Mesh) Any() bool {
	for _, v := range m.Valid {
		if v {
			return true
		}
	}
	return false
}
