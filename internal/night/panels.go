package night

import (
	"math"

	"fitsqa/internal/stars/registration"
)

const (
	fewestOther = 3  // subs that prove a field by being tied to each other: two may be alike by chance
	provingPeak = 12 // stars that a sub needs to prove anything
)

// samePanel is the share of its field that a sub has in common with the others of its
// pointing. Panels of a mosaic overlap by a tenth to a third, and no dither takes half of
// a field (common practice, no source).
const samePanel = 0.5

// panel are the subs of one name that point beside the others, as panels of a mosaic do:
// half a field or more away, and close to each other. The stars that they have in common
// with the others, if any, lie along an edge, and tell neither what light the whole field
// got nor how many stars it should show. Nil when there are none; a pointing that drifts
// away goes through every place between and makes none.
func panel(same []*Sub) []*Sub {
	var loose []*Sub
	beside := false
	for _, s := range same {
		switch {
		case !s.Align.Matched():
			if s.Field.Count >= provingPeak {
				loose = append(loose, s)
			}
		case common(s, s.Align, registration.Identity) < samePanel:
			loose, beside = append(loose, s), true
		}
	}
	if !beside || len(loose) < fewestOther {
		return nil
	}
	alignments, _ := registration.Align(fields(loose))
	var tied []*Sub
	for i, s := range loose {
		if al := alignments[i]; al.Matched() && common(s, al, registration.Identity) >= samePanel {
			tied = append(tied, s)
		}
	}
	if len(tied) < fewestOther || !pointApart(tied, without(same, tied)) {
		return nil
	}
	return tied
}

// pointApart tells whether none of some subs has a pointing in common with one of the others,
// as far as both are tied to one reference.
func pointApart(some, others []*Sub) bool {
	for _, a := range tiedOf(some) {
		for _, b := range tiedOf(others) {
			if common(a, a.Align, b.Align.Transform) >= samePanel {
				return false
			}
		}
	}
	return true
}

// common is the share of a sub's field, as it lies on the reference, that a field of its
// size has there as well, by how far their middles are apart.
func common(s *Sub, al registration.Alignment, other registration.Transform) float64 {
	w, h := float64(s.Width), float64(s.Height)
	x, y := al.Transform.Apply(w/2, h/2)
	u, v := other.Apply(w/2, h/2)
	return math.Max(0, 1-math.Abs(x-u)/w) * math.Max(0, 1-math.Abs(y-v)/h)
}
