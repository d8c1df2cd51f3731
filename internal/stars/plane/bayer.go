package plane

import (
	"math"

	"fitsqa/internal/stats"
)

// GreenParity finds which diagonal of a 2x2 colour mosaic is green: pixels with
// (x+y)&1 equal to the result. The two green pixels of a cell see the same sky,
// red and blue ones differ; where both diagonals agree the brighter is green.
// The header is not asked: it is wrong too often (common practice, no source).
func GreenParity(data []float32, w, h int) int {
	var level [2][2]float64
	for py := range 2 {
		for px := range 2 {
			var s []float32
			step := max(2, (max(w, h)/256)&^1)
			for y := py; y < h; y += step {
				for x := px; x < w; x += step {
					if v := data[y*w+x]; v == v {
						s = append(s, v)
					}
				}
			}
			if len(s) > 0 {
				m, _ := stats.ModeInPlace(s)
				level[py][px] = float64(m)
			}
		}
	}
	even := math.Abs(level[0][0] - level[1][1])
	odd := math.Abs(level[0][1] - level[1][0])
	noise := 0.002 * math.Abs(level[0][0]+level[0][1]+level[1][0]+level[1][1]) / 4
	switch {
	case even < odd-noise:
		return 0
	case odd < even-noise:
		return 1
	case level[0][0]+level[1][1] >= level[0][1]+level[1][0]:
		return 0
	}
	return 1
}

// FillFromGreen replaces red and blue pixels in place by the mean of the green
// ones beside them. Only detection looks at these; shapes and fluxes use green
// pixels alone, so that filling in never broadens a star.
func FillFromGreen(data []float32, w, h, green int) {
	for y := range h {
		for x := (green + 1 + y) & 1; x < w; x += 2 {
			var sum float32
			n := float32(0)
			add := func(i int) {
				if v := data[i]; v == v {
					sum += v
					n++
				}
			}
			if x > 0 {
				add(y*w + x - 1)
			}
			if x+1 < w {
				add(y*w + x + 1)
			}
			if y > 0 {
				add((y-1)*w + x)
			}
			if y+1 < h {
				add((y+1)*w + x)
			}
			if n == 0 {
				data[y*w+x] = float32(math.NaN())
				continue
			}
			data[y*w+x] = sum / n
		}
	}
}
