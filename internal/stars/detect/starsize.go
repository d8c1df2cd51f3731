package detect

import (
	"cmp"
	"slices"
	"sort"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// alike is the range of sizes, from the least to the greatest, that stars of one
// field have.
const alike = 1.35

// mostly is by how much the median of all sizes may exceed the stars' where most
// images are stars.
const mostly = 1.08

// starSize is the size of the stars among images of many sizes, px. Stars are
// alike; knots of galaxies and nebulae are not, and larger: so of sizes that a fair
// number of the images have about in common, the smallest, if images of that size
// are found all over. Where they are not, focus changes over the field. What is smaller
// than least is no star.
func starSize(regs []region, sizes []float64, least float64, w, h int) float64 {
	median := stats.Median(sizes)
	if median < wellSampled || len(sizes) < 10 {
		return median
	}
	order := make([]int, len(sizes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sizes[a], sizes[b]) })
	sorted := make([]float64, len(sizes))
	places := make([]stars.Place, len(sizes))
	for i, k := range order {
		sorted[i], places[i] = sizes[k], stars.Place{X: regs[k].cx, Y: regs[k].cy}
	}
	most := 0
	for i := range order {
		most = max(most, alikeTo(sorted, i, alike)-i)
	}
	for i := range order {
		to := alikeTo(sorted, i, alike)                 // of stars alike, the i-th being the smallest
		if sorted[i] < least || to-i < max(6, most/4) { // hot pixels side by side, particles; few
			continue
		}
		// Where most images are stars their own median is the better measure: a
		// group begins with the least of them.
		size := stats.Median(sorted[i:to])
		if size >= median/mostly {
			return median
		}
		if stars.AllOver(places, places[i:to], w, h) {
			return size
		}
	}
	return median
}

// alikeTo is the end of those values of a sorted list, from one on, that exceed it by a
// factor at most.
func alikeTo(sorted []float64, from int, factor float64) int {
	return sort.Search(len(sorted), func(k int) bool { return sorted[k] > factor*sorted[from] })
}

// least is the size under which images of a picture summed over bin x bin px are hot
// pixels side by side or particles, in its pixels: two pixels, or what lights hardly
// more than one of the sums.
func least(bin int) float64 {
	if bin > 1 {
		return 1.5
	}
	return 2
}
