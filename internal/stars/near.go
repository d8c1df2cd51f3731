package stars

import (
	"cmp"
	"slices"
	"sort"
)

// Neighbours finds stars near a point: in rising order of y, all of a narrow band
// of rows are at hand together.
type Neighbours struct{ places []place }

// place is that of a star of the list.
type place struct {
	x, y float64
	star int
}

func NewNeighbours(list []Star) *Neighbours {
	n := &Neighbours{make([]place, len(list))}
	for i, s := range list {
		n.places[i] = place{s.X, s.Y, i}
	}
	slices.SortFunc(n.places, func(a, b place) int { return cmp.Or(cmp.Compare(a.y, b.y), a.star-b.star) })
	return n
}

// Within calls f for every star no farther than reach, by its number in the list.
func (n *Neighbours) Within(x, y, reach float64, f func(int)) {
	first := sort.Search(len(n.places), func(i int) bool { return n.places[i].y >= y-reach })
	for _, p := range n.places[first:] {
		dx, dy := p.x-x, p.y-y
		if dy > reach {
			break
		}
		if dx*dx+dy*dy <= reach*reach {
			f(p.star)
		}
	}
}
