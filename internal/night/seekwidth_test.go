package night

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Folds of a nebula, and what is left of the sky along the edge of a cover, agree in a width
// that no air makes: stars are not sought in apertures of that size. Where the scale is not
// known, they may be stars.
func TestWidthThatNoStarHas(t *testing.T) {
	sub := func(fwhm, err, arcsecPerPixel float64, images int) *Sub {
		return &Sub{Sub: &subs.Sub{PixelScale: arcsecPerPixel, Field: &stars.Field{FWHM: stats.Known(fwhm, err, images)}}}
	}
	for _, c := range []struct {
		of   *Sub
		want bool
	}{
		{sub(3, 0.2, 1.5, 4), true},
		{sub(3, 0.2, 1.5, 1), false},
		{sub(3, 0.9, 1.5, 4), false},
		{sub(48, 4, 1.5, 5), false},
		{sub(12, 0.5, 1.5, 5), true}, // far out of focus
		{sub(48, 4, 0.2, 5), true},
	} {
		if got := tellsWidth(c.of); got != c.want {
			t.Errorf("FWHM %v at %v arcsec/px tells a width: %v", c.of.Field.FWHM, c.of.PixelScale, got)
		}
	}
}
