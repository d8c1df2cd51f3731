package stars

import (
	"math"

	"fitsqa/internal/stats"
)

// Place is where an image lies, px.
type Place struct{ X, Y float64 }

// AllOver tells whether some of the images are found in three quarters of the
// parts of the field that hold images, a quarter of their even share at least in each.
func AllOver(images, some []Place, w, h int) bool {
	const side = 3
	var all, held [side * side]int
	for _, at := range images {
		all[PartOf(at.X, at.Y, w, h, side)]++
	}
	for _, at := range some {
		held[PartOf(at.X, at.Y, w, h, side)]++
	}
	n, with := 0, 0
	for c := range all {
		if all[c] >= 4 {
			n++
		}
	}
	for c := range all {
		if all[c] >= 4 && held[c] > 0 && 4*held[c]*n >= len(some) {
			with++
		}
	}
	return n == 0 || 4*with >= 3*n
}

// Evenly tells whether images lie around the middle of a frame, and as far from it, as
// chance puts stars: where a field is tilted or bowed, the sharpest are at one side or in
// the middle.
func Evenly(some []Place, w, h int) bool {
	var x, y, far float64
	n := float64(len(some))
	for _, at := range some {
		u, v := at.X/float64(w)-0.5, at.Y/float64(h)-0.5
		x, y, far = x+u/n, y+v/n, far+(u*u+v*v)/n
	}
	// A place in one is uneven by 1/sqrt(12) along either axis; the square of its
	// distance is 1/6 in the mean, and uneven by 1/sqrt(90).
	const sigmas = 4
	return math.Hypot(x, y) < sigmas/math.Sqrt(12*n) && math.Abs(far-1./6) < sigmas/math.Sqrt(90*n)
}

// smoothShare of the variance of all is that of neighbours at most, where focus makes it.
const smoothShare = 0.2

// Smoothly tells whether what images differ by changes smoothly over the field, as widths
// of stars out of focus do: each differs little from the nearest, compared with any two
// (after von Neumann 1941, Annals of Mathematical Statistics 12, 367).
func Smoothly(images []Place, values []float64) bool {
	var step float64
	for i, at := range images {
		nearest, beside := math.Inf(1), 0.0
		for j, o := range images {
			if d := math.Hypot(o.X-at.X, o.Y-at.Y); j != i && d < nearest {
				nearest, beside = d, values[j]
			}
		}
		step += (beside - values[i]) * (beside - values[i])
	}
	return step/2 < smoothShare*stats.Variance(values)*float64(len(images))
}
