package frames

import (
	"fmt"
	"math"
)

// look is what a few strips of pixels show, cheaply: enough to tell bias, dark,
// flat and sub apart and to check a claimed colour pattern, not to measure.
type look struct {
	taken   bool
	median  float64    // level, in physical units
	noise   float64    // of 2x2 blocks, from neighbours along the rows
	peak    float64    // brightest pixel
	stars   int        // peaks that spill into their neighbours
	phases  [4]float64 // median of the pixels at (even, even), (odd, even), (even, odd), (odd, odd)
	samples int        // pixels in each phase
	spread  float64    // robust sigma within a phase

	fine         bool    // values between the whole numbers occur
	parts        float64 // what whole numbers were divided by to lie between 0 and 1; 0: nothing
	values       int     // different values among the blocks, counted up to manyValues
	near, far    float64 // mean squared difference of pixels 1 and 2 px apart, over that of distant ones
	along, cross float64 // typical difference of neighbouring blocks along the rows and across them
}

// manyValues is more than a map of flags has.
const manyValues = 5

func (l *look) numbers() []float64 {
	fine := 0.0
	if l.fine {
		fine = 1
	}
	return []float64{l.median, l.noise, l.peak, float64(l.stars), l.phases[0], l.phases[1], l.phases[2], l.phases[3], float64(l.samples), l.spread,
		float64(l.values), l.near, l.far, l.along, l.cross, fine, l.parts}
}

// recall is the inverse of numbers; false when they are not such.
func (l *look) recall(n []float64) bool {
	if len(n) != 17 {
		return false
	}
	*l = look{true, n[0], n[1], n[2], int(n[3]), [4]float64(n[4:8]), int(n[8]), n[9], n[15] == 1, n[16], int(n[10]), n[11], n[12], n[13], n[14]}
	return true
}

func (l look) starry() bool { return l.taken && l.stars >= 3 }

// uneven tells whether the level varies over the frame by more than noise
// explains (a block of four has half a pixel's noise): something glows or was
// imaged.
func (l look) uneven() bool { return l.taken && l.spread > 6*max(l.noise, l.atLeast(0.5)) }

// atLeast is the least noise that whole numbers can show: their median difference can be 0.
func (l look) atLeast(noise float64) float64 {
	if l.fine {
		return 0
	}
	return noise
}

// offGreen is how far red or blue, whichever is further, lies from the mean of
// the green planes.
func (l look) offGreen(first bool) float64 {
	g, r, b := (l.phases[0]+l.phases[3])/2, l.phases[1], l.phases[2]
	if !first {
		g, r, b = (l.phases[1]+l.phases[2])/2, l.phases[0], l.phases[3]
	}
	return max(math.Abs(g-r), math.Abs(g-b))
}

func (l *look) shift(by float64) {
	l.median += by
	l.peak += by
	for k := range l.phases {
		l.phases[k] += by
	}
}

// magnify is the look at samples so many times as large, which are whole numbers then.
func (l *look) magnify(by float64) {
	for _, v := range []*float64{&l.median, &l.noise, &l.peak, &l.spread, &l.along, &l.cross, &l.phases[0], &l.phases[1], &l.phases[2], &l.phases[3]} {
		*v *= by
	}
	l.fine = false
}

// String is for test failures.
func (l look) String() string {
	return fmt.Sprintf("median %.1f noise %.2f spread %.2f peak %.0f stars %d phases %.1f", l.median, l.noise, l.spread, l.peak, l.stars, l.phases)
}
