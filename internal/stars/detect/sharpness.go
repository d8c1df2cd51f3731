package detect

import "fitsqa/internal/stars/plane"

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
