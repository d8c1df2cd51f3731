package plate

import (
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
)

// Follow is the solution of a frame that is tied to a solved one by a map of its pixels
// to that one's, fitted anew to the frame's own stars: so it is checked as well.
func (s *Solution) Follow(f *stars.Field, t registration.Transform) Solved {
	w, h := float64(f.Width-1), float64(f.Height-1)
	toSky := func(x, y float64) vector {
		ra, dec := s.Sky(t.Apply(x, y))
		return direction(ra, dec)
	}
	guess := &Solution{width: f.Width, height: f.Height}
	middle := toSky(w/2, h/2)
	var pixels, planes []point
	for _, c := range []point{{0, 0}, {w, 0}, {0, h}, {w, h}} {
		p, ok := project(toSky(c.x, c.y), middle)
		if !ok {
			return unsolved(OtherSide)
		}
		pixels, planes = append(pixels, c), append(planes, p)
	}
	m, shift, ok := affine(pixels, planes)
	if !ok {
		return unsolved(TieNoMap)
	}
	guess.setMap(m, shift, middle)
	guess.cubic = s.cubic
	field := newField(f)
	near := field.catalogueOf(guess)
	if got, ok := field.refine(guess, near, 1); ok {
		return Solved{Solution: got}
	}
	return unsolved(NotWhereTied)
}
