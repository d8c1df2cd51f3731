package detect

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
)

// sharper tells that two pixels explain more of the light than the profile of a
// star does, and that half of what a star so bright has beside them is missing.
// The second question is for stars narrower than the pixels are apart: those two
// pixels hold nearly all their light, so that the slightest misfit of the
// profile loses against them.
func (g *glimpse) sharper() bool { return g.twoPixels > g.matched && g.beside < 0.5 }

// spiked tells that the brightest pixel stands high above the star's profile that
// fits best (compare the sharpness of Stetson 1987, PASP 99, 191): the track of a
// charged particle over several pixels. Stars exceed it by a third at most, when
// the filter is taken too wide. own is the noise of a pixel without the star.
func (g *glimpse) spiked(own, gain float64) bool {
	above := g.peak - g.profile
	return above > 0.8*g.profile && above > 4*plane.WithPhotons(own, g.peak, gain)
}

const (
	sureSNR    = 15.0 // from which a point is separated from a star whatever their numbers
	mostBeside = 0.9  // of what a star has beside two pixels, that it is ever asked to show
)

// takePoints takes from the stars those that are more likely points, where the faint
// points outnumber the faint stars. What a point has beside its two pixels is normal
// about nothing, what a star has about all that its profile says; the odds shift the
// place of equal likelihood between the two by variance times ln odds (Bayes' rule).
// As stars go the odds rise, so that they are asked anew.
func takePoints(list []image, points []stars.Star) ([]image, []stars.Star) {
	var faint float64
	for i := range points {
		if points[i].SNR < sureSNR {
			faint++
		}
	}
	for before := -1; before != len(list); {
		before = len(list)
		n := 0.0
		for i := range list {
			if list[i].SNR < sureSNR {
				n++
			}
		}
		if !(faint > n) {
			break
		}
		odds := math.Log(faint / max(1, n))
		kept := list[:0]
		for _, im := range list {
			if im.beside < min(0.5+im.besideErr*im.besideErr*odds, mostBeside) {
				points = append(points, im.Star)
				faint++
				continue
			}
			kept = append(kept, im)
		}
		list = kept
	}
	return list, points
}
