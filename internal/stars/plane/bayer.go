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
		row := data[y*w:][:w]
		inner := 0 < y && y < h-1
		var below, above []float32
		if inner {
			below, above = data[(y-1)*w:][:w], data[(y+1)*w:][:w]
		}
		for x := (green + 1 + y) & 1; x < w; x += 2 {
			if inner && 0 < x && x < w-1 {
				if sum := row[x-1] + row[x+1] + below[x] + above[x]; sum == sum {
					row[x] = sum / 4
					continue
				}
			}
			row[x] = meanBeside(data, w, h, x, y)
		}
	}
}

// meanBeside is the mean of the pixels beside one that hold a number.
func meanBeside(data []float32, w, h, x, y int) float32 {
	var sum, n float32
	add := func(inside bool, i int) {
		if inside && data[i] == data[i] {
			sum += data[i]
			n++
		}
	}
	at := y*w + x
	add(x > 0, at-1)
	add(x+1 < w, at+1)
	add(y > 0, at-w)
	add(y+1 < h, at+w)
	return sum / n // NaN of none
}
