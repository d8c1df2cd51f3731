package plane

import (
	"math"

	"fitsqa/internal/stats"
)

const (
	greensDiffer = 0.005 // of the level: what the two green pixels of a cell differ by, by their read-out (common practice, no source)
	// A sky is about 1.5 times as bright in green as in red and blue, within a factor
	// of 1.35 (common practice, no source): by so many times their relative difference
	// it is the more likely that the brighter diagonal is green, as ln of the odds.
	greenBrighter = 2 * 0.4 / (0.3 * 0.3)
)

// GreenParity finds which diagonal of a 2x2 colour mosaic is green: pixels with
// (x+y)&1 equal to the result. The two green pixels of a cell see the same sky,
// red and blue ones differ; and green is the brighter, as a rule. Either counts by
// the odds it gives: red and blue may be alike within noise. Differences are taken
// cell by cell, so that nebulae and gradients cancel.
// The header is not asked: it is wrong too often (common practice, no source).
func GreenParity(data []float32, w, h int) int {
	var even, odd, over, level []float32 // differences along both diagonals, and between these
	step := max(2, (max(w, h)/256)&^1)
	for y := 0; y+1 < h; y += step {
		for x := 0; x+1 < w; x += step {
			a, b, c, d := data[y*w+x], data[y*w+x+1], data[(y+1)*w+x], data[(y+1)*w+x+1]
			if sum := a + b + c + d; sum-sum == 0 {
				even, odd = append(even, a-d), append(odd, b-c)
				over, level = append(over, (a+d-b-c)/2), append(level, sum/4)
			}
		}
	}
	if len(even) == 0 {
		return 0
	}
	e, o := stats.SigmaClip(even, 3, 5), stats.SigmaClip(odd, 3, 5)
	l := math.Abs(stats.MedianInPlace(level))
	variance := math.Pow(greensDiffer*l, 2) + e.SD*e.SD/float64(e.N) + o.SD*o.SD/float64(o.N)
	odds := (o.Mean*o.Mean - e.Mean*e.Mean) / (2 * variance)
	if l > 0 {
		odds += greenBrighter * stats.SigmaClip(over, 3, 5).Mean / l
	}
	if odds >= 0 {
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
