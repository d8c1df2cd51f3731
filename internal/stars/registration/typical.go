package registration

import (
	"cmp"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
)

// A reference must show what the other subs of its target show: stars that it
// alone has would be missing in all of them.
const (
	manyStars = 1.3 // times as many as the next eighth of the fields have: more are not stars of the sky
	wider     = 1.2 // times the usual width, beyond which faint stars are lost
	longer    = 0.1 // ellipticity beyond the usual, likewise
)

// byTypical lists the fields that have stars to match, the best reference first:
// undoubled, round and sharp as most are, with many stars but no more than
// others have too.
func byTypical(fields []*stars.Field) []int {
	var order []int
	var able []*stars.Field
	var counts []float64
	for i, f := range fields {
		if f == nil || len(f.Stars) < minStars {
			continue
		}
		order, able = append(order, i), append(able, f)
		counts = append(counts, float64(f.Count))
	}
	if len(order) == 0 {
		return nil
	}
	slices.SortFunc(counts, func(a, b float64) int { return cmp.Compare(b, a) })
	next := counts[min(len(counts)-1, max(1, len(counts)/8))]
	usual := figures.UsualShape(able)
	odd := func(i int) (n int) {
		f := fields[i]
		if f.Double.Is() {
			n += 2
		}
		if float64(f.Count) > manyStars*next {
			n++
		}
		if usual.Exceeded(f, wider, longer) {
			n++
		}
		return n
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(odd(a), odd(b)), cmp.Compare(fields[b].Count, fields[a].Count))
	})
	return order
}
