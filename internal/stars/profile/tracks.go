package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A particle that crosses the sensor leaves a line a pixel wide, which optics do not: where
// the filter tells that images are plainly wider, what is as thin across and long along is
// no star, however bright. Stars of narrow images that are drawn out all are so together.
const (
	trackAcross = 1.0 // px FWHM across, and
	trackThin   = 0.4 // of the usual FWHM, at most
	trackLong   = 0.5 // ellipticity, at least
	roundEnough = 0.4 // ellipticity of the others, at most: else the stars may be lines themselves
)

// withoutTracks are the fits of images that are no particles' tracks, which are marked as
// not fitted.
func withoutTracks(list []stars.Star, fits []fitted, usual float64) []fitted {
	var images, tracks []fitted
	var elongations []float64
	for _, f := range fits {
		a, b, _ := f.axes()
		if 2*b < math.Min(trackAcross, trackThin*usual) && 1-b/a > trackLong {
			tracks = append(tracks, f)
		} else {
			images, elongations = append(images, f), append(elongations, 1-b/a)
		}
	}
	if len(tracks) == 0 || len(images) == 0 || stats.Median(elongations) > roundEnough {
		return fits
	}
	for _, f := range tracks {
		list[f.star].Unfit()
	}
	return images
}

// starsOf are the indices of the stars fitted.
func starsOf(fits []fitted) (of []int) {
	for _, f := range fits {
		of = append(of, f.star)
	}
	return of
}
