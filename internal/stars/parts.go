package stars

import (
	"slices"

	"fitsqa/internal/stats"
)

// PartOf is the number of the part of a field, cut into side x side, row by row
// from the first pixel, that a point lies in.
func PartOf(x, y float64, w, h, side int) int {
	i, j := int((x+0.5)*float64(side)/float64(w)), int((y+0.5)*float64(side)/float64(h))
	return min(max(j, 0), side-1)*side + min(max(i, 0), side-1)
}

// UsualOf is the median of the values in each part of a field, and that of all
// where a part has fewer than so many.
func UsualOf(parts [][]float64, fewest int) []float64 {
	whole := stats.Median(slices.Concat(parts...))
	usual := make([]float64, len(parts))
	for c, v := range parts {
		usual[c] = whole
		if len(v) >= fewest {
			usual[c] = stats.Median(v)
		}
	}
	return usual
}
