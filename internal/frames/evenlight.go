package frames

import (
	"math"

	"fitsqa/internal/names"
)

// evenLights settles frames that nothing names and that show even light without stars:
// clouded subs, or flats of a camera of few bits, whose brightest is dim on the scale of
// 16. How far the camera counts its other frames tell: none of 12 bits is above 4095,
// and stars or hot pixels reach that. What is as bright as a flat on the camera's own
// scale is a sub only where subs with stars were exposed as long; else it is a flat where
// the subs make the scale sure. Where they do not, it is of no kind if nothing in it is
// brighter than twice its level: one huge star is no peak of a star's width.
func evenLights(fs []*Frame) {
	highest := map[names.Name]float64{}
	for _, f := range fs {
		if f.Err == nil && f.look.taken {
			highest[f.Meta.Camera] = math.Max(highest[f.Meta.Camera], f.look.peak)
		}
	}
	for _, f := range fs {
		if !f.unnamedEvenLight() {
			continue
		}
		peak := highest[f.Meta.Camera]
		full := fullScale(peak)
		subs, alike := f.besideSubs(fs)
		switch {
		case full == 0 || f.look.median < full/8 || alike:
		case subs && peak > 0.98*full:
			f.Kind = Flat
		case f.look.peak < 2*f.look.median:
			f.Kind, f.KindSource = Unknown, ""
			f.warn(EvenUnnamed)
		}
	}
}

// unnamedEvenLight tells frames that only their pixels and exposure call lights, and
// that show nothing but light.
func (f *Frame) unnamedEvenLight() bool {
	l := f.look
	return f.Err == nil && f.Kind == Light && f.KindSource == KindFromPixels && l.taken && !l.starry() && l.spread < 0.3*l.median
}

// fullScale is what a camera of 12 or 14 bits can count to that shows no more than peak,
// ADU; 0 for one of more bits, whose flats are bright (see bright).
func fullScale(peak float64) float64 {
	for _, full := range []float64{1 << 12, 1 << 14} {
		if peak < full {
			return full
		}
	}
	return 0
}

// besideSubs tells whether there are frames with stars of the same camera and shape, and
// whether one was exposed as long.
func (f *Frame) besideSubs(fs []*Frame) (subs, alike bool) {
	for _, o := range fs {
		if o.Err == nil && o.Kind == Light && o.look.starry() && o.Meta.Camera == f.Meta.Camera && o.Image.Width == f.Image.Width && o.Image.Height == f.Image.Height {
			subs = true
			alike = alike || math.Abs(o.Meta.Exposure-f.Meta.Exposure) <= 0.01*f.Meta.Exposure
		}
	}
	return subs, alike
}
