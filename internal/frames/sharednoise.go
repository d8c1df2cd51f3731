package frames

import (
	"math"

	"fitsqa/internal/stats"
)

// Shared noise tells aligned frames from raw ones. A raw pixel has noise of its own; one
// of an aligned frame is a weighted mean of raw ones, and shares with its next neighbour
// what both were made of. Of white noise shifted by half a pixel the mean squared
// difference of next neighbours falls to 0.50 by linear, 0.66 by cubic and 0.78 by
// windowed-sinc interpolation (computed from their kernels); that of pixels 2 px apart
// stays or rises. Stars too faint to be seen one by one make neighbours alike as well, but
// their light reaches as far as the seeing: pixels 2 px apart then differ less too.

const (
	shareCell  = 64  // px along the rows: the sky is flat over it
	shareReach = 5   // px, the farthest pixels compared
	shareClip  = 1.5 // sigma above the median, beyond which a pixel may be a star
)

// shares gathers from a strip what each cell shows: the mean squared differences of
// pixels 1 and 2 px apart, over that of pixels 4 and 5 px apart.
func (s *lookSums) shares(px []float32, cols int) {
	rows := len(px) / cols
	for x0 := 0; x0+shareCell+shareReach <= cols; x0 += shareCell * (1 + cols/1024) { // some cells of a wide frame tell as much
		limit := s.starless(px, cols, x0)
		var sum, n [shareReach + 1]float64
		for y := 0; y < rows; y += 3 { // a third is plenty
			for x := x0; x < x0+shareCell; x++ {
				i := y*cols + x
				v := float64(px[i])
				if !(v <= limit) {
					continue
				}
				for _, k := range [4]int{1, 2, 4, 5} {
					if d := v - float64(px[i+k]); v-d <= limit {
						sum[k] += d * d
						n[k]++
					}
					if y+k >= rows {
						continue
					}
					if d := v - float64(px[i+k*cols]); v-d <= limit {
						sum[k] += d * d
						n[k]++
					}
				}
			}
		}
		if far := (sum[4] + sum[5]) / (n[4] + n[5]); far > 0 {
			s.near = append(s.near, sum[1]/n[1]/far)
			s.far = append(s.far, sum[2]/n[2]/far)
		}
	}
}

// starless is the level of a cell above which a pixel may be a star.
func (s *lookSums) starless(px []float32, cols, x0 int) float64 {
	s.cell = s.cell[:0]
	for y := 0; y*cols < len(px); y += 3 {
		for x := x0 + y%2; x < x0+shareCell; x += 2 {
			if v := px[y*cols+x]; v == v {
				s.cell = append(s.cell, v)
			}
		}
	}
	if len(s.cell) < shareCell {
		return math.Inf(-1)
	}
	n := len(s.cell)
	median := stats.SelectKth(s.cell, n/2)
	low := stats.SelectKth(s.cell[:n/2], n*16/100)
	return float64(median) + shareClip*float64(median-low)
}

// resampled tells that neighbouring pixels share their noise, and that it is not faint
// stars' light. A shift by a tenth of a pixel or less leaves next to
// nothing to see. Raw frames of real cameras show 0.98 or more where no stars crowd.
func (l look) resampled() bool {
	const alike, ofStars = 0.95, 0.25
	return l.taken && l.near > 0 && l.near < alike && 1-l.far < ofStars*(1-l.near)
}
