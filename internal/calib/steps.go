package calib

import (
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// Cameras of fewer than 16 bits, and programs, scale samples up to 16 bits or do not. A
// master in steps of the converter lies under subs of scaled samples as one with its offset
// might; but what stays at its pixels, offset pattern and hot pixels, is then as many times
// as strong in the subs. Noise of the master only makes that less.

// inSteps tells that a master is in steps of the converter while the samples of the subs
// are so many times as large, and how many. A dark of another exposure or temperature than
// the subs', and one whose pixels do not tell, goes by the bias that was so.
func (a *analysis) inSteps(pixels []float32, g *frames.Group) (step float64, is bool) {
	lights, sub := a.subLike(g)
	step = stepOf(sub)
	if lights == nil || len(sub) != len(pixels) || !(step > 1) {
		return 1, false
	}
	if g.Kind == frames.Bias || alike(g, lights) {
		times, err := patternTimes(pixels, sub, g.Width, step)
		if between := math.Sqrt(step); math.Abs(times-between) > 3*err {
			return step, times > between
		}
	}
	return step, g.Kind == frames.Dark && slices.ContainsFunc(a.stepped, func(b *frames.Group) bool { return sensor.SameReadout(b, g) })
}

// alike tells that darks have the dark signal of subs within a third.
func alike(dark, lights *frames.Group) bool {
	const near = 1.3 // a degree or two between the sensors makes less
	longer := dark.Exposure / lights.Exposure
	return longer < near && longer > 1/near &&
		!(math.Abs(sensor.TemperatureOf(dark)-sensor.TemperatureOf(lights)) > 2) // not known: as like as not
}

// stepOf is the distance between whole samples; 0 where they are not whole.
func stepOf(pixels []float32) float64 {
	step := 0
	for _, v := range pixels {
		n := int(v)
		if float32(n) != v {
			return 0
		}
		for n != 0 {
			step, n = n, step%n
		}
		if step == 1 || step == -1 {
			return 1
		}
	}
	return math.Abs(float64(step))
}

// patternTimes is how many times as strong as in a master its pattern is in a sub, with its
// error: the slope of what pixels stand off their neighbours of one colour in the one
// against the other. Where a sub is off by more than pattern and noise can make, a star is.
func patternTimes(master, sub []float32, width int, most float64) (times, err float64) {
	const starry = 5 // sigma
	noise := sensor.SpatialNoise(sub, width)
	odd := float32(starry * noise)
	return slopeOff(master, sub, width, noise, func(x, y float32) bool {
		return !(y > max(0, float32(most)*x)+odd || y < min(0, float32(most)*x)-odd)
	})
}

// slopeOff is the slope, with its error, of what pixels of a sub stand off their neighbours
// of one colour against what they do in a master, of those pairs that count; noise is the
// sub's.
func slopeOff(master, sub []float32, width int, noise float64, counts func(x, y float32) bool) (slope, err float64) {
	var xx, xy float64
	for i := 2; i+2 < len(master); i++ {
		if i%width < 2 || i%width >= width-2 {
			continue
		}
		if x, y := off(master, i), off(sub, i); counts(x, y) {
			xx += float64(x) * float64(x)
			xy += float64(x) * float64(y)
		}
	}
	if xx == 0 {
		return math.NaN(), math.NaN()
	}
	return xy / xx, noise * math.Sqrt(1.5/xx) // of a pixel and the mean of two
}

// off is by what a pixel stands off the mean of its neighbours of one colour.
func off(p []float32, i int) float32 { return p[i] - (p[i-2]+p[i+2])/2 }
