package stars

import "math"

// Neighbours finds stars near a point through a grid of buckets.
type Neighbours struct {
	list  []Star
	side  float64
	cells map[[2]int][]int
}

func NewNeighbours(list []Star, side float64) *Neighbours {
	n := &Neighbours{list, max(side, 1), map[[2]int][]int{}}
	for i, s := range list {
		c := n.cell(s.X, s.Y)
		n.cells[c] = append(n.cells[c], i)
	}
	return n
}

func (n *Neighbours) cell(x, y float64) [2]int {
	return [2]int{int(math.Floor(x / n.side)), int(math.Floor(y / n.side))}
}

// Within calls f for every star no farther than reach, which must not exceed
// the side of the buckets.
func (n *Neighbours) Within(x, y, reach float64, f func(int)) {
	c := n.cell(x, y)
	for j := c[1] - 1; j <= c[1]+1; j++ {
		for i := c[0] - 1; i <= c[0]+1; i++ {
			for _, k := range n.cells[[2]int{i, j}] {
				if math.Hypot(n.list[k].X-x, n.list[k].Y-y) <= reach {
					f(k)
				}
			}
		}
	}
}
