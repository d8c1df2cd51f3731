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
	votes, told := knotVotes(fields, al)
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
		if f == nil {
			continue
		}
		for _, p := range al[i].Pairs {
			if votes[p[1]] > 0 && !f.Stars[p[0]].Knot {
				out[i] = append(out[i], p[0])
			}
		}
	}
	return out
}

// knotVotes are, of each star of the reference, the fields that take it for a knot less those
// that take it for a star, and how many fields tell.
func knotVotes(fields []*stars.Field, al []Alignment) (votes map[int]int, told int) {
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
