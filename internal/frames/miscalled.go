package frames

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// A sequence that was begun with the wrong kind set calls subs flats, darks or bias
// frames. Twilight flats may have stars, too, but none of them is as long and as dim as
// the subs and as starry as they.
const (
	subsBeside  = 3   // subs that tell what one is like
	starsLeft   = 0.5 // of their stars, at least
	levelWithin = 2   // times their level, either way: twilight flats end there, and the Moon begins
)

// miscalled takes the kind from calibration frames that are subs by all that is seen of
// them: what a header calls calibration is no sub either, since none can be moved aside.
func miscalled(fs []*Frame) {
	for _, f := range fs {
		if f.Err != nil || f.Master || !f.Kind.isCalibration() || !f.look.starry() {
			continue
		}
		var counts, levels []float64
		for _, o := range fs {
			if o.Err == nil && o.Kind == Light && o.look.starry() && f.shotLike(o) {
				counts, levels = append(counts, float64(o.look.stars)), append(levels, o.look.median)
			}
		}
		if len(counts) < subsBeside {
			continue
		}
		level := f.look.median / stats.Median(levels)
		if float64(f.look.stars) >= starsLeft*stats.Median(counts) && level < levelWithin && level > 1./levelWithin {
			f.warn(CalledOther, fact.Text("kind", string(f.Kind)))
			f.Kind, f.KindSource, f.Disputed = Unknown, "", true
		}
	}
}

// shotLike tells whether a frame has the camera, size and exposure of another.
func (f *Frame) shotLike(o *Frame) bool {
	const rounded = 0.01 // of exposures in headers
	t := f.Meta.Exposure / o.Meta.Exposure
	return f.Meta.Camera == o.Meta.Camera && f.Image.Width == o.Image.Width && f.Image.Height == o.Image.Height && t > 1-rounded && t < 1+rounded
}
