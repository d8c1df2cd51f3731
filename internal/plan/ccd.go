package plan

import "math"

// ccd is the noise of a photometric aperture: the CCD equation (Merline and
// Howell 1995, Experimental Astronomy 6, 163).
type ccd struct {
	Pixels           float64 // n, of the object
	BackgroundPixels float64 // nB, that the sky was measured in; +Inf: its noise does not count
	Sky, Dark        float64 // e-/s per pixel
	ReadNoise        float64 // e-
	Gain             float64 // e-/ADU; 0: the step of the converter does not count
}

// stepNoise is the sd of rounding to whole numbers, as the equation's authors
// rounded it from 1/√12.
const stepNoise = 0.289

// snr of an object that gives rate e-/s in all its pixels, in one exposure of t s.
func (c ccd) snr(rate, t float64) float64 {
	n := c.Pixels
	perPixel := (c.Sky+c.Dark)*t + c.ReadNoise*c.ReadNoise + c.Gain*c.Gain*stepNoise*stepNoise
	return rate * t / math.Sqrt(rate*t+n*(1+n/c.BackgroundPixels)*perPixel)
}

// noiseShare is the fraction by which read noise raises the noise of a sub
// above that of the background alone: √(1 + R²/(S t)) - 1, with S in e-/s per
// pixel. It holds for every stack of such subs, as their number cancels.
func noiseShare(readNoise, rate, t float64) float64 {
	return math.Sqrt(1+readNoise*readNoise/(rate*t)) - 1
}

// shortestExposure is the exposure in s at which noiseShare comes down to
// share: t = R² / (S ((1 + share)² - 1)).
func shortestExposure(readNoise, rate, share float64) float64 {
	return readNoise * readNoise / (rate * ((1+share)*(1+share) - 1))
}
