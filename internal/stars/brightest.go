package stars

import (
	"cmp"
	"slices"
)

// Brightest is the order of a list's stars by their flux: their numbers, of two alike
// the first one first. Stars are large, and are moved once where they must be.
func Brightest(list []Star) []int {
	type light struct {
		flux float64
		star int
	}
	lights := make([]light, len(list))
	for i := range list {
		lights[i] = light{list[i].Flux, i}
	}
	slices.SortFunc(lights, func(a, b light) int { return cmp.Or(cmp.Compare(b.flux, a.flux), a.star-b.star) })
	order := make([]int, len(list))
	for k, l := range lights {
		order[k] = l.star
	}
	return order
}
