package night

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Folds of a nebula, and what is left of the sky along the edge of a cover, agree in a width
// that no air makes: stars are not sought in apertures of that size. Where the scale is not
// known, they may be stars; an unsure width counts for less, and that of one image, which may be
// the core of a galaxy.
func TestWidthThatNoStarHas(t *testing.T) {
	sub := func(fwhm, err, arcsecPerPixel float64, images int) *Sub {
		return &Sub{Sub: &subs.Sub{PixelScale: arcsecPerPixel, Field: &stars.Field{FWHM: stats.Known(fwhm, err, images)}}}
	}
	for _, c := range []struct {
		of   *Sub
		want bool
	}{
		{sub(3, 0.2, 1.5, 4), true},
		{sub(3, 1.5, 1.5, 4), true},
		{sub(48, 4, 1.5, 5), false},
		{sub(12, 0.5, 1.5, 5), true}, // far out of focus
		{sub(2.5, 0.1, 15, 5), true}, // a lens under coarse pixels
		{sub(48, 4, math.NaN(), 5), true},
	} {
		if _, weight := toldWidth(c.of); weight > 0 != c.want {
			t.Errorf("FWHM %v at %v arcsec/px counts for %v", c.of.Field.FWHM, c.of.PixelScale, weight)
		}
	}
	_, sure := toldWidth(sub(3, 0.1, 1.5, 4))
	for _, less := range []*Sub{sub(3, 1.5, 1.5, 4), sub(3, 0.1, 1.5, 1)} {
		if _, weight := toldWidth(less); !(weight < sure/4) {
			t.Errorf("a width of %v counts for %v beside %v", less.Field.FWHM, weight, sure)
		}
	}
}

// Most subs of a field of few narrow stars tell no sure width, some are trailed, and a galaxy
// is surer than all: stars are sought as narrow as the narrower of them.
func TestWidthOfFewStars(t *testing.T) {
	widths, weights := []float64{10, 1.6, 1.2, 1.5, 10, 1.3}, []float64{11, 3.3, 3.4, 3.2, 11, 0.5}
	if got := narrowQuarter(widths, weights); got != 1.6 {
		t.Errorf("stars are sought as %v px wide", got)
	}
	if got := narrowQuarter([]float64{3, 3.2, 1.2, 3.4}, []float64{10, 12, 2, 11}); got != 3 { // hot pixels
		t.Errorf("stars are sought as %v px wide", got)
	}
}
