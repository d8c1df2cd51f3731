package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// A halo is light that was scattered on its way, by drops on the optics or ice in
// the air: it stands around the star, beyond what seeing and optics make of it.
// It is looked for between haloInner and haloOuter FWHM, above a ring that is three
// times as far away, around stars whose light is known. A Moffat image of exponent
// 2.5 has 2 % of its light there, one of 3.5 a tenth of that. Halos of several
// arcminutes, as fine drops make, are as bright in both rings and do not show.
const (
	haloInner, haloOuter = 3, 6
	skyInner, skyOuter   = 9, 12
	haloStars            = 60   // the brightest that are looked at
	haloSamples          = 400  // pixels of each ring, whose median neighbours do not move
	haloErr              = 0.3  // of a star's light, to which its own halo has to be known
	haloScatter          = 0.01 // by which bright stars differ: neighbours, the background under them
	haloFewest           = 5    // stars that tell what the field's are like
)

// Halo is the share of the stars' light in such halos, relative to what stands in
// the stars themselves; N = stars that tell.
func Halo(p *plane.Plane, list []stars.Star, fwhm, noise float64) stats.Value {
	near, far := plane.NewRingOf(haloSamples, haloInner*fwhm, haloOuter*fwhm), plane.NewRingOf(haloSamples, skyInner*fwhm, skyOuter*fwhm)
	area := math.Pi * (haloOuter*haloOuter - haloInner*haloInner) * fwhm * fwhm
	perStar := stats.MedianErr * noise * math.Sqrt(2./haloSamples) * area // of the difference of two medians
	var shares, weights, errs []float64
	for i := range list {
		st := &list[i]
		if len(shares) == haloStars || !(perStar < haloErr*st.Flux) {
			break // they come brightest first
		}
		if st.Saturated || st.Blended || !st.Fitted {
			continue
		}
		x, y := int(math.Round(st.X)), int(math.Round(st.Y))
		if share := (near.Median(p, x, y) - far.Median(p, x, y)) * area / st.Flux; !math.IsNaN(share) {
			err := perStar / st.Flux
			shares, errs, weights = append(shares, share), append(errs, err), append(weights, 1/(err*err+haloScatter*haloScatter))
		}
	}
	if len(shares) < haloFewest {
		return stats.Missing(stars.FewForHalo)
	}
	return stats.MedianValue(shares, weights, errs, "")
}
