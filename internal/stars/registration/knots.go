package registration

import (
	"maps"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Whether an image is a star or a knot of a galaxy or nebula is told by its width beside
// those of others, in some subs and not in others: in the sharp ones, by the stars that
// happen to be there. What it is in most of those it is in all, where the widths in the others
// bear that out.
const (
	bornFewest  = 2   // subs that tell stars from knots, or bear it out
	bornShare   = 0.5 // of the subs that might
	starsFewest = 2   // stars that tell what they have in common
	sureWidth   = 0.1 // of its width, the error of one that bears it out
	plainlyOver = 1.2 // times as wide as the stars, knots whose widths bear it out: focus over a field makes less of most
)

// StarPlaces are where, in each field that took some of the others' knots for stars, or found no
// width in common, those images lie that are stars in most of the fields that tell: measured
// again, it has its width by these. They are nil where a field needs none, and where too few tell.
func StarPlaces(fields []*stars.Field, al []Alignment) [][]stars.Place {
	votes, told := KnotVotes(fields, al)
	if told == 0 {
		return make([][]stars.Place, len(fields))
	}
	able, borne := 0, 0
	at := map[int]stars.Place{} // of the stars, by their number in the reference, on it
	for i := range al {
		if !al[i].Matched() {
			continue
		}
		switch over := knotsOver(fields[i], &al[i], votes, told); {
		case over > plainlyOver:
			borne++
			fallthrough
		case over > 0:
			able++
		}
		for _, p := range al[i].Pairs {
			if s := &fields[i].Stars[p[0]]; s.Fitted && -2*votes[p[1]] >= told && tellsKnots(fields[i]) {
				x, y := al[i].Transform.Apply(s.X, s.Y)
				at[p[1]] = stars.Place{X: x, Y: y}
			}
		}
	}
	told, able = told+borne, told+able
	out := make([][]stars.Place, len(fields))
	if told < bornFewest || float64(told) < bornShare*float64(able) || len(at) < starsFewest {
		return out
	}
	numbers := slices.Sorted(maps.Keys(at))
	for i, f := range fields {
		if f == nil || !al[i].Matched() || !misled(f, &al[i], votes) {
			continue
		}
		back := al[i].Transform.Inverse()
		for _, k := range numbers {
			x, y := back.Apply(at[k].X, at[k].Y)
			out[i] = append(out[i], stars.Place{X: x, Y: y})
		}
	}
	return out
}

// knotsOver is how many times as wide as the stars the knots of a field are, by their middle
// ones; 0 where it tells knots itself, or has not both.
func knotsOver(f *stars.Field, al *Alignment, votes map[int]int, told int) float64 {
	var star, knot []float64
	for _, p := range al.Pairs {
		switch s := &f.Stars[p[0]]; {
		case s.Knot:
			return 0
		case !(s.FWHMErr < sureWidth*s.FWHM): // too faint to tell
		case s.Fitted && -2*votes[p[1]] >= told:
			star = append(star, s.FWHM)
		case s.Fitted && votes[p[1]] > 0:
			knot = append(knot, s.FWHM)
		}
	}
	if len(star) < starsFewest || len(knot) < starsFewest {
		return 0
	}
	return stats.Median(knot) / stats.Median(star)
}

// misled tells whether a field has no width, or has it by images that are knots by the votes.
func misled(f *stars.Field, al *Alignment, votes map[int]int) bool {
	return !f.FWHM.OK() && !f.Defocused || slices.ContainsFunc(al.Pairs, func(p [2]int) bool { return votes[p[1]] > 0 && f.Stars[p[0]].Fitted })
}

// tellsKnots tells whether a field tells knots from stars.
func tellsKnots(f *stars.Field) bool {
	return slices.ContainsFunc(f.Stars, func(s stars.Star) bool { return s.Knot })
}

// KnotVotes are, of each star of the reference, the fields that take it for a knot less those
// that take it for a star, and how many fields tell.
func KnotVotes(fields []*stars.Field, al []Alignment) (votes map[int]int, told int) {
	votes = map[int]int{}
	for i, f := range fields {
		if f == nil || !tellsKnots(f) {
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
