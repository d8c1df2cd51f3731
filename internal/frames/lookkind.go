package frames

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// bright tells whether the level is that of a flat: an eighth of 16 bits, or
// of the range of floating-point data scaled to 1.
func (f *Frame) bright() bool {
	l := f.look
	return l.taken && (l.median > 8000 || f.Image.Bitpix < 0 && l.peak <= 1 && l.median > 0.125)
}

// flatLike tells whether the frame is bright, starless, and varies no more
// than vignetting makes a flat vary.
func (f *Frame) flatLike() bool {
	return f.bright() && !f.look.starry() && f.look.spread < 0.3*f.look.median
}

func (f *Frame) kindFromPixels() Kind {
	l, t := f.look, f.Meta.Exposure
	switch {
	case !l.taken:
		return Unknown
	case f.flatLike():
		return Flat
	case l.starry() && !(t < maxBiasExposure/10.):
		return Light
	case l.starry():
		return Unknown
	case t < maxBiasExposure/10. && !l.uneven(): // else perhaps a short, dim flat
		return Bias
	case t >= maxBiasExposure && (l.uneven() || !math.IsNaN(f.Meta.RA)):
		return Light // nothing points a telescope for a dark
	case t >= maxBiasExposure:
		return Dark
	}
	return Unknown
}

// checkBayer compares the claimed colour pattern with the pixels: the two
// green planes have the same level, red and blue hardly ever have.
func (f *Frame) checkBayer() {
	l := f.look
	if !l.taken || f.Image.Planes != 1 || l.samples < 100 {
		return
	}
	main := math.Abs(l.phases[0] - l.phases[3]) // (0,0) and (1,1)
	anti := math.Abs(l.phases[1] - l.phases[2])
	// Standard error of the difference of two medians: sqrt(2) x MedianErr x sigma/sqrt(n).
	limit := 5 * math.Sqrt2 * stats.MedianErr * l.spread / math.Sqrt(float64(l.samples))
	green := "" // a pattern with green where the pixels show it
	switch {
	case anti > limit && anti > 3*main:
		green = "GRBG"
	case main > limit && main > 3*anti:
		green = "RGGB"
	default:
		return
	}
	if f.Meta.Bayer == "" {
		// No claim: only a clear mosaic counts, in a frame that saw light.
		off := l.offGreen(greenFirst(green))
		if f.Kind != Bias && f.Kind != Dark && off > 0.01*math.Abs(l.median) && off > 4*limit {
			f.Meta.Bayer = green
			f.warn(MosaicUnclaimed, fact.Text("pattern", green))
		}
		return
	}
	if greenFirst(f.Meta.Bayer) == greenFirst(green) || f.Kind == Bias || f.Kind == Dark { // what these show is no light's
		return
	}
	was := f.Meta.Bayer
	f.Meta.Bayer = shiftBayer(was, 1, 0)
	shown := 0
	if greenFirst(green) {
		shown = 1
	}
	f.warn(MosaicOther, fact.Text("claimed", was), fact.Count("green_first", shown), fact.Text("pattern", f.Meta.Bayer))
}
