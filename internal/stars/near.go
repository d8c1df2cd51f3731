package stars

import (
	"cmp"
	"math"
	"slices"
)

// Neighbours finds stars near a point: in rising order of y, all of a narrow band
// of rows are at hand together.
type Neighbours struct {
	places []place
	first  []int   // of them in each of as many bands of rows as there are stars, and their number
	bottom float64 // of the lowest band
	bands  float64 // per px
}

type place struct {
	x, y float64
	star int
}

// NewNeighbours sorts a list of stars for questions about who is near.
func NewNeighbours(list []Star) *Neighbours {
	n := &Neighbours{places: make([]place, len(list)), first: make([]int, len(list)+2), bottom: math.Inf(1)}
	top := math.Inf(-1)
	for i := range list {
		n.bottom, top = min(n.bottom, list[i].Y), max(top, list[i].Y)
	}
	n.bands = float64(len(list)) / (top - n.bottom + 1)
	next := n.first[1:] // moved up by those that are put into a band
	for i := range list {
		if b := n.band(list[i].Y) + 1; b < len(next) {
			next[b]++
		}
	}
	for b := 1; b < len(next); b++ {
		next[b] += next[b-1]
	}
	for i := range list {
		b := n.band(list[i].Y)
		n.places[next[b]] = place{list[i].X, list[i].Y, i}
		next[b]++
	}
	for b := range next {
		slices.SortFunc(n.places[n.first[b]:n.first[b+1]], func(a, b place) int { return cmp.Or(cmp.Compare(a.y, b.y), a.star-b.star) })
	}
	return n
}

// band is the one that a row lies in, or the nearest.
func (n *Neighbours) band(y float64) int {
	return min(max(int((y-n.bottom)*n.bands), 0), len(n.first)-2)
}

// Within calls f for every star no farther than reach, by its number in the list.
func (n *Neighbours) Within(x, y, reach float64, f func(int)) {
	for _, p := range n.places[n.first[n.band(y-reach)]:] {
		dx, dy := p.x-x, p.y-y
		if dy > reach {
			break
		}
		if dx*dx+dy*dy <= reach*reach {
			f(p.star)
		}
	}
}
