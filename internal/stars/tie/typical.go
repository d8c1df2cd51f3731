package tie

import (
	"cmp"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A reference must show what the other subs of its target show: stars that it
// alone has would be missing in all of them.
const (
	manyStars = 1.3 // times as many as the next eighth of the fields have: more are not stars of the sky
	wider     = 1.2 // times the usual width, beyond which faint stars are lost
	longer    = 0.1 // ellipticity beyond the usual, likewise

	farWider  = 1.4 // times the usual width, beyond which a star's light holds its neighbours'
	farLonger = 0.2 // ellipticity beyond the usual, likewise
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
	usual := usualShape(able)
	odd := func(i int) (n int) {
		f := fields[i]
		if f.Double.Is() {
			n += 2
		}
		if float64(f.Count) > manyStars*next {
			n++
		}
		if usual.exceeded(f, wider, longer) {
			n++
		}
		return n
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(odd(a), odd(b)), cmp.Compare(fields[b].Count, fields[a].Count))
	})
	return order
}

// misshapen tells which fields are doubled, of a shape that could not be measured (rings,
// above all), or wider or more drawn out by far than most.
func misshapen(fields []*stars.Field) []bool {
	usual := usualShape(fields)
	odd := make([]bool, len(fields))
	for i, f := range fields {
		odd[i] = f != nil && (f.Double.Is() || !f.FWHM.OK() || usual.surelyExceeded(f, farWider, farLonger))
	}
	return odd
}

// shape is a width, px, and an ellipticity; NaN where no field has one.
type shape struct{ width, ellipticity float64 }

// usualShape is the median one.
func usualShape(fields []*stars.Field) shape {
	var widths, ellipticities []float64
	for _, f := range fields {
		if f != nil && f.FWHM.OK() && f.Ellipticity.OK() {
			widths, ellipticities = append(widths, f.FWHM.V), append(ellipticities, f.Ellipticity.V)
		}
	}
	return shape{stats.Median(widths), stats.Median(ellipticities)}
}

// surelyExceeded is exceeded by more than two standard errors.
func (s shape) surelyExceeded(f *stars.Field, wider, longer float64) bool {
	return f.FWHM.Surely() > wider*s.width || f.Ellipticity.Surely() > s.ellipticity+longer
}

// exceeded tells whether a field is wider by a factor or more drawn out by so much.
func (s shape) exceeded(f *stars.Field, wider, longer float64) bool {
	return f.FWHM.V > wider*s.width || f.Ellipticity.V > s.ellipticity+longer
}
