package night

import (
	"math"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/plate"
	"fitsqa/internal/stars"
	"fitsqa/internal/subs"
)

// Widths are told by the stars' scale where the header has none, or one that the stars
// disprove; by the header's where both agree, and where it is not known whether the sub
// was shot through the same optics.
func TestScaleByStars(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name                string
		header, found, want float64
	}{
		{"none in the header", nan, 2.01, 2},
		{"not found, none in the header", nan, nan, 2},
		{"as in the header", 1.97, 2.01, 1.97},
		{"wrong in the header", 1.5, 2.01, 2},
		{"through other optics", nan, 4, 4},
		{"not found, other in the header", 4, nan, 4},
	} {
		s := &Sub{Sub: &subs.Sub{PixelScale: c.header}}
		if c.found > 0 {
			s.Plate.Solution = &plate.Solution{Scale: c.found}
		}
		p := Place{Solved: plate.Solved{Solution: &plate.Solution{Scale: 2}}}
		p.scaleByStars([]*Sub{s})
		if by := s.PixelScale != c.header; s.PixelScale != c.want || (p.ScaledByIt == 1) != by {
			t.Errorf("%s: %v arcsec/px, want %v; %d by the stars", c.name, s.PixelScale, c.want, p.ScaledByIt)
		}
	}
}

// Where fields of a camera are nowhere on the sky, others without a hint are not sought
// all over it, and those with one are.
func TestFieldsNowhere(t *testing.T) {
	for _, c := range []struct {
		lost  int
		scale float64
		want  fact.Code
	}{{sought - 1, math.NaN(), plate.FewStars}, {sought, math.NaN(), OthersNowhere}, {sought, 2, plate.FewStars}} {
		s := &Sub{Sub: &subs.Sub{PixelScale: c.scale, Field: &stars.Field{}}}
		if p := placeTogether(t.Context(), nil, []*Sub{s}, c.lost); p.Why.Code != c.want || s.Plate.Why.Code != c.want {
			t.Errorf("%d in vain, %v arcsec/px: %v, want %s", c.lost, c.scale, p.Why, c.want)
		}
	}
}
