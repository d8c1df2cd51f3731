package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// A tree or a roof that hides a part of every sub through one filter leaves none to tell
// which stars are missing. Fields of other filters do: colours differ from star to star,
// but hardly make nearly all stars of a part of the field disappear.
const (
	emptyParts   = 0.12 // of a field, that hardly hold a star, before others are asked
	emptyShare   = 0.35 // of the mean number of stars, that such a part holds at most
	fewestInPart = 3    // mean number of stars in a part that makes an empty one odd
	fewWitnesses = 2    // fields that tell
	witnesses    = 6    // as many are asked
	coveredLeast = 0.15 // share of the field that is surely covered, or nothing is said
)

// CoveredThroughout finds what hides a part of the fields of one filter, whose light is
// known beside each other, by the stars that fields of other filters show there.
func CoveredThroughout(light []Transparency, fields []*stars.Field, al []registration.Alignment, others []*stars.Field, othersAl []registration.Alignment) {
	tell := byStars(others, othersAl)
	if len(tell) < fewWitnesses {
		return
	}
	for j, f := range fields {
		t := &light[j]
		if !t.Ratio.OK() || t.Covered.V > coveredLeast || !empty(f) {
			continue
		}
		held, heldAl := []*stars.Field{f}, []registration.Alignment{al[j]}
		for _, i := range tell {
			held, heldAl = append(held, others[i]), append(heldAl, othersAl[i])
		}
		z := newZeroPoints(held, heldAl, nil)
		z.solve()
		z.findDue()
		if covered, dark := z.bare(0); covered.V-covered.Err > coveredLeast {
			t.cover(covered, dark)
		}
	}
}

// byStars are those fields that have been tied with the most stars, the most first.
func byStars(fields []*stars.Field, al []registration.Alignment) []int {
	var order []int
	for i, f := range fields {
		if f != nil && al[i].Matched() {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return fields[b].Count - fields[a].Count })
	return order[:min(len(order), witnesses)]
}

// empty tells whether a good part of a field hardly holds a star while the rest does.
func empty(f *stars.Field) bool {
	count := starsIn(f, stars.Parts)
	mean := stats.Mean(count)
	return mean >= fewestInPart && stats.Quantile(count, emptyParts) < emptyShare*mean
}

// bare is the share of a field without the stars that must be there, and which of its
// parts, as many as there are stars for, lack nearly all of them: none where too few do. A
// star that is missing in the usual part is so for its colour; one that is no star in the
// other filters, a knot of a nebula, is missing among others that are there.
func (z *zeroPoints) bare(j int) (covered stats.Value, dark []bool) {
	var missing []float64
	n, without := 0, 0.0
	parts := z.duesByPart(j)
	own := starsIn(z.fields[j], int(math.Sqrt(float64(len(parts)))))
	few := fewInPart * stats.Mean(own)
	for p, part := range parts {
		lost := lacking(part) && own[p] <= few
		if dark = append(dark, lost); lost {
			without++
		}
		if len(part) >= dueFewest {
			missing, n = append(missing, goneOf(part)/float64(len(part))), n+len(part)
		}
	}
	if without < emptyParts*float64(len(dark)) {
		return stats.Missing(stars.NoneLacking), dark
	}
	usual := stats.Quantile(missing, usualPart)
	share := (stats.Mean(missing) - usual) / (1 - usual)
	return stats.Known(share, math.Sqrt(max(share*(1-share), lostLeast)/float64(n)), n), dark
}

// usualPart is the quantile of the parts, by what they miss, that is surely open where
// something covers others.
const usualPart = 0.1

// cover takes off the light of a covered share of the field, dark as these parts tell.
func (t *Transparency) cover(covered stats.Value, dark []bool) {
	open := 1 - covered.V
	t.Ratio, t.Depth, t.Covered = t.Ratio.Scaled(open), t.Depth.Scaled(open), covered
	side := int(math.Sqrt(float64(len(dark))))
	for k := range t.Map {
		if y, x := k/stars.Parts*side/stars.Parts, k%stars.Parts*side/stars.Parts; dark[y*side+x] {
			t.Map[k] = 0
		}
	}
}
