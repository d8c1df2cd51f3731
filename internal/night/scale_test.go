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
		if p := placeTogether(t.Context(), nil, new(searches), []*Sub{s}, c.lost); p.Why.Code != c.want || s.Plate.Why.Code != c.want {
			t.Errorf("%d in vain, %v arcsec/px: %v, want %s", c.lost, c.scale, p.Why, c.want)
		}
	}
}

// An early search counts only for the stars and the hint that it began with.
func TestEarlySearch(t *testing.T) {
	h := plate.Hint{RA: 10, Dec: 20, Scale: 1}
	begun := func() *Sub {
		return &Sub{Sub: &subs.Sub{Field: &stars.Field{Width: 100, Height: 100, Stars: []stars.Star{{X: 1, Y: 2, Flux: 3}, {X: 5, Y: 6, Flux: 2}}}}}
	}
	for name, c := range map[string]struct {
		change func(s *Sub, h *plate.Hint)
		want   fact.Code
	}{
		"as it was":        {func(*Sub, *plate.Hint) {}, plate.NotThere},
		"a star taken off": {func(s *Sub, _ *plate.Hint) { s.Field.Stars = s.Field.Stars[:1] }, plate.FewStars},
		"a star moved":     {func(s *Sub, _ *plate.Hint) { s.Field.Stars[1].X++ }, plate.FewStars},
		"another scale":    {func(_ *Sub, h *plate.Hint) { h.Scale = 2 }, plate.FewStars},
	} {
		s, hint := begun(), h
		all := &searches{of: map[*Sub]early{s: {field: *begun().Field, hint: h, found: func() plate.Solved { return plate.Solved{Why: fact.Of(plate.NotThere)} }}}}
		c.change(s, &hint)
		if got := all.solve(t.Context(), nil, s, hint); got.Why.Code != c.want {
			t.Errorf("%s: %v, want %v", name, got.Why.Code, c.want)
		}
	}
}
