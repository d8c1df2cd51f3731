package registration

import (
	"slices"

	"fitsqa/internal/stars"
)

// Whether an image is a star or a knot of a galaxy or nebula is told by its width beside
// those of others, in some subs and not in others: in the sharp ones, by the stars that
// happen to be there. What it is in most of those it is in all.
const (
	toldFewest = 2      // subs that tell stars from knots
	toldShare  = 1. / 8 // of the subs, that do
)

// Knots finds the images that are knots in most of the fields that tell, and are taken for
// stars in others: for each field the numbers of its stars, to be given to
// figures.Among; nil when there are none at all.
func Knots(fields []*stars.Field, al []Alignment) [][]int {
	votes, told := KnotVotes(fields, al)
	tied := 0
	for i := range al {
		if al[i].Matched() {
			tied++
		}
	}
	if told < toldFewest || float64(told) < toldShare*float64(tied) {
		return nil
	}
	out := make([][]int, len(fields))
	for i, f := range fields {
		if f != nil {
			out[i] = outvoted(f, &al[i], votes)
		}
	}
	return out
}

// outvoted are the numbers of a field's stars that are knots by the votes, and with these
// those without a vote that are wider than its known stars.
func outvoted(f *stars.Field, al *Alignment, votes map[int]int) (knots []int) {
	known, widest := make([]int, len(f.Stars)), 0.0
	spoiled := false
	for _, p := range al.Pairs {
		s := &f.Stars[p[0]]
		known[p[0]] = votes[p[1]]
		spoiled = spoiled || s.Fitted && votes[p[1]] > 0
		if s.Fitted && votes[p[1]] < 0 {
			widest = max(widest, s.FWHM)
		}
	}
	if !spoiled {
		return nil
	}
	for i := range f.Stars {
		if s := &f.Stars[i]; known[i] > 0 && !s.Knot || known[i] == 0 && s.Fitted && s.FWHM > widest {
			knots = append(knots, i)
		}
	}
	return knots
}

// KnotVotes are, of each star of the reference, the fields that take it for a knot less those
// that take it for a star, and how many fields tell.
func KnotVotes(fields []*stars.Field, al []Alignment) (votes map[int]int, told int) {
	votes = map[int]int{}
	for i, f := range fields {
		if f == nil || !slices.ContainsFunc(f.Stars, func(s stars.Star) bool { return s.Knot }) {
			continue
		}
		told++
		for _, p := range al[i].Pairs {
			switch s := &f.Stars[p[0]]; {
			case s.Knot:
				votes[p[1]]++
			case s.Fitted:
				votes[p[1]]--
			}
		}
	}
	return votes, told
}
