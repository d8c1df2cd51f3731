package stars

import (
	"fmt"
	"math"
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
	return above > 0.8*g.profile && above > 4*withPhotons(own, g.peak, gain)
}

// noteSharpness says what cannot be known where stars are hardly wider than the
// measured pixels are apart (1.6 times: the pixels around the middle then hold
// under a third of its height each).
func (f *Field) noteSharpness(p *plane, s seeing) {
	apart, which := 1.0, "pixels"
	if p.green >= 0 {
		apart, which = math.Sqrt2, "green pixels"
	}
	if s.bright == 0 || s.fwhm > 1.6*apart {
		return
	}
	f.Notes = append(f.Notes, fmt.Sprintf("the stars are hardly wider than the %s are apart, so that their width depends on the assumed profile", which))
	if p.sharp > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%d points of light that fill one or two pixels were left out as hot pixels: some may be faint stars", p.sharp))
	}
}
