package worth

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stats"
)

// A flat divides all that is left in a sub, the dark current too, which came by no lens: where
// darks do not take it off, corners that the flat lifts as light come out brighter than the sky.
// The level of corrected subs is then plane sky and dark current over the flat's light.

// Limits: how many times its error the lift is, and which share of the sky in percent, to be
// told: flats of a panel or of twilight leave some percent by themselves (common practice, no
// source). That it is dark current its pattern shows, which is some percent of it at least
// (common practice, no source): a flat that does not fit lifts corners of a sensor without any.
const (
	liftSure    = 5
	liftTold    = 3
	leastUneven = 0.02
)

// Lift finds by how much the corners come out brighter than the middle for that: light is the
// flat's at a pixel, 1 in the mean. The four quarters of the frame tell the error, for a nebula
// fills them unequally.
func (s *Seen) Lift(found *Found, light func(x, y int) float64) {
	if len(s.maps) < fewestSeen || !found.Pattern.OK() || min(s.frameWidth, s.frameHeight) < cellSide {
		return
	}
	var maps [][]float64
	for _, m := range s.maps {
		maps = append(maps, m.levels)
	}
	level := meanOf(maps)
	raised := make([]float64, len(level))
	for c := range raised {
		x, y := s.centre(c)
		if raised[c] = raise(x, y, light); !(raised[c] > 0) || math.IsInf(raised[c], 1) { // the flat is blind there
			return
		}
	}
	x, y := s.abovePlane(raised), s.abovePlane(level)
	var xx, xy [5]float64 // of the quarters, and of all
	for c := range x {
		for _, k := range []int{s.quarter(c), 4} {
			xx[k], xy[k] = xx[k]+x[c]*x[c], xy[k]+x[c]*y[c]
		}
	}
	percent := 100 * s.corners(raised, light) / stats.Median(level)
	dark := xy[4] / xx[4] // e- of a sub
	var quarters []float64
	for q := range 4 {
		quarters = append(quarters, percent*xy[q]/xx[q])
	}
	lift := stats.Known(percent*dark, stat.StdDev(quarters, nil)/2, len(s.maps))
	found.Lifted = stats.Missing(HiddenInSubs)
	if lift.V > max(liftTold, liftSure*lift.Err) && found.Pattern.V > leastUneven*dark {
		found.Lifted = lift
	}
}

// quarter of the frame in which a cell lies.
func (s *Seen) quarter(c int) int {
	x, y := s.share(c)
	q := 0
	if x > 0.5 {
		q++
	}
	if y > 0.5 {
		q += 2
	}
	return q
}

// raise is how many times a flat lifts what lies about a pixel.
func raise(x, y float64, light func(x, y int) float64) float64 {
	const reach = 4 // px, to both sides: a flat's noise is nothing then, and of a mosaic all colours count
	sum := 0.0
	for dy := -reach; dy < reach; dy++ {
		for dx := -reach; dx < reach; dx++ {
			sum += light(int(x)+dx, int(y)+dy)
		}
	}
	return 4 * reach * reach / sum
}

// abovePlane is what cells have more than the plane through all.
func (s *Seen) abovePlane(cells []float64) []float64 {
	var sums stats.PlaneSums
	for c, v := range cells {
		x, y := s.share(c)
		sums.Add(x-0.5, y-0.5, v)
	}
	p := sums.Solve()
	above := make([]float64, len(cells))
	for c, v := range cells {
		x, y := s.share(c)
		above[c] = v - p.At(x-0.5, y-0.5)
	}
	return above
}

// corners is by how much the mean of the frame's corners is raised more than the least cell.
func (s *Seen) corners(cells []float64, light func(x, y int) float64) float64 {
	const inside = 4 // px
	right, top := float64(s.frameWidth-inside), float64(s.frameHeight-inside)
	sum := raise(inside, inside, light) + raise(right, inside, light) + raise(inside, top, light) + raise(right, top, light)
	return sum/4 - slices.Min(cells)
}
