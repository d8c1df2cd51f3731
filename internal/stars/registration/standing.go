package registration

import (
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// standing is how good a reference a field is.
type standing struct{ tied, pairs int }

// standingOf is how many fields are tied to a reference, as far as most of so many are,
// and by how many of its stars: those count once it is the right target.
func standingOf(al []Alignment, ref, of int) (s standing) {
	for i := range al {
		if al[i].Matched() {
			s.tied++
			if i != ref {
				s.pairs += len(al[i].Pairs)
			}
		}
	}
	s.tied = min(s.tied, of/2+1)
	return s
}

// showsMost is the share of the stars in the emptier of two fields that both show at least,
// in the middle of all fields: of clear fields, dithered by little, nine in ten are in both,
// and eight in ten of sparse ones with their stars at the limit of detection. A clear
// reference below it, of fields that turn or hardly overlap, costs another try and no more.
const showsMost = 0.75

// showsTheirs tells whether a reference shows the stars of the fields tied to it. One under
// leaves or frost, whose edges pass for stars, has more than they have and lacks what is
// hidden: what it lacks no other would be held against.
func showsTheirs(fields []*stars.Field, al []Alignment, ref int) bool {
	var shares []float64
	for i := range al {
		if i != ref && al[i].Matched() {
			least := min(len(fields[i].Stars), len(fields[ref].Stars))
			shares = append(shares, float64(len(al[i].Pairs))/float64(least))
		}
	}
	return len(shares) == 0 || stats.Median(shares) >= showsMost
}
