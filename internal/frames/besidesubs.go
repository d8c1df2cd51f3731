package frames

import (
	"math"
	"path/filepath"
)

// noiseWavers is how much less noise one of two like frames may seem to have, by
// a look at some rows, whose samples are counted in whole steps.
const noiseWavers = 0.9

// starlessSubs takes for subs what only pixels call darks or flats, where subs with stars
// lie in the same folder, shot with the same camera, size and exposure, and the frame has
// no less light than they: behind cloud and in twilight there are no stars, and a dark is
// darker than any sub and has less noise, that of the sky. A flat exposed as long as the
// subs is brighter than they, as a sub in twilight is, which shows no noise once it fills
// the range; nobody mixes flats among subs without a name of theirs (common practice, no
// source).
func starlessSubs(fs []*Frame) {
	for _, f := range fs {
		if f.Err != nil || f.KindSource != KindFromPixels || f.Kind != Dark && f.Kind != Flat {
			continue
		}
		level, noise, n := math.Inf(1), math.Inf(1), 0
		for _, o := range fs {
			if o.Err == nil && o.Kind == Light && o.look.starry() && f.shotLike(o) && filepath.Dir(o.Path) == filepath.Dir(f.Path) {
				level, noise, n = min(level, o.look.median), min(noise, o.look.noise), n+1
			}
		}
		if n >= subsBeside && f.look.median >= level && (f.look.noise >= noiseWavers*noise || f.Kind == Flat) {
			f.Kind = Light
		}
	}
}
