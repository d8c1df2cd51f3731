package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// goneOf is how many of some stars are missing.
func goneOf(dues []*dueStar) (missing float64) {
	for _, d := range dues {
		if d.seen == nil {
			missing++
		}
	}
	return missing
}

// mostGone is the share of a part's stars that are missing where it is covered, rather than
// poor in sure stars.
const mostGone = 0.7

// lacking tells whether a part of a field, of which enough stars tell, lacks nearly all of them.
func lacking(part []*dueStar) bool {
	return len(part) >= dueFewest && goneOf(part) >= mostGone*float64(len(part))
}

// missingOf is how many of some stars are missing, and how many chance leaves out.
func missingOf(dues []*dueStar) (missing, expected float64) {
	for _, d := range dues {
		expected += max(1-d.odds, lostLeast)
	}
	return goneOf(dues), expected
}

// onePlace is how far apart two stars are, in FWHM, that are missing for one cause: a filter as
// wide as they are gathers light from √2 of it, and what the core of a galaxy or a knot lights
// shows as one image in this sub, as two in that and as none in a third.
const onePlace = 2 * math.Sqrt2

// beyondChance tells whether stars of field j are missing at more places than where so many
// missing ones are expected.
func (z *zeroPoints) beyondChance(j int, dues []*dueStar, expected float64) bool {
	reach := onePlace * z.width
	if f := z.fields[j].FWHM; f.OK() {
		reach = onePlace * f.V
	}
	var places []*dueStar
	for _, d := range dues {
		near := func(o *dueStar) bool { return math.Hypot(o.x-d.x, o.y-d.y) < reach }
		if d.seen != nil || slices.ContainsFunc(places, near) {
			continue
		}
		places = append(places, d)
		if n := len(places); float64(n) > expected && stats.PoissonTail(n, expected) < missingOdds {
			return true
		}
	}
	return false
}
