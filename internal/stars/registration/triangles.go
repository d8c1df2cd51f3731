package registration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/kdtree"
)

// triangle is three stars by what no shift and no rotation changes: its sides,
// longest first. The corners are ordered so that corner 0 is opposite the
// longest side, 1 the middle one, 2 the shortest; turn is the sense of that
// order, which a mirror would change and a telescope does not. (After the
// triangles of Groth 1986, AJ 91, 1244; the sides themselves are used where
// Groth takes their ratios, since one telescope has one scale.)
type triangle struct {
	sides  [3]float64
	corner [3]int // indices into the list of points
	turn   bool
}

// Compare, Dims and Distance make triangles points of a k-d tree.
func (t triangle) Compare(c kdtree.Comparable, d kdtree.Dim) float64 {
	return t.sides[d] - c.(triangle).sides[d]
}

// Dims is the number of sides.
func (t triangle) Dims() int { return 3 }

// Distance is squared, as the tree wants it.
func (t triangle) Distance(c kdtree.Comparable) float64 {
	o := c.(triangle).sides
	a, b, e := t.sides[0]-o[0], t.sides[1]-o[1], t.sides[2]-o[2]
	return a*a + b*b + e*e
}

type triangles []triangle

func (t triangles) Index(i int) kdtree.Comparable         { return t[i] }
func (t triangles) Len() int                              { return len(t) }
func (t triangles) Slice(start, end int) kdtree.Interface { return t[start:end] }

// Pivot sorts by one side and splits in the middle.
func (t triangles) Pivot(d kdtree.Dim) int {
	slices.SortFunc(t, func(a, b triangle) int {
		switch {
		case a.sides[d] < b.sides[d]:
			return -1
		case a.sides[d] > b.sides[d]:
			return 1
		}
		return 0
	})
	m := len(t) / 2
	for m > 0 && t[m-1].sides[d] == t[m].sides[d] {
		m--
	}
	return m
}

type point struct {
	x, y float64
	star int // index in the field's list
}

// allTriangles lists every triangle of the points with sides of at least 20 px,
// so that errors of position do not turn it, multiplied by scale. Nearly
// isosceles ones are left out: their corners could be taken for each other.
func allTriangles(pts []point, scale float64) triangles {
	var out triangles
	for i := range pts {
		for j := range i {
			for k := range j {
				if t, ok := newTriangle(pts, i, j, k, scale); ok {
					out = append(out, t)
				}
			}
		}
	}
	return out
}

func newTriangle(pts []point, i, j, k int, scale float64) (triangle, bool) {
	d := func(a, b int) float64 { return scale * math.Hypot(pts[a].x-pts[b].x, pts[a].y-pts[b].y) }
	t := triangle{sides: [3]float64{d(j, k), d(i, k), d(i, j)}, corner: [3]int{i, j, k}}
	for a := range 2 {
		for b := a + 1; b < 3; b++ {
			if t.sides[b] > t.sides[a] {
				t.sides[a], t.sides[b] = t.sides[b], t.sides[a]
				t.corner[a], t.corner[b] = t.corner[b], t.corner[a]
			}
		}
	}
	if t.sides[2] < 20 || t.sides[0]-t.sides[1] < 3 || t.sides[1]-t.sides[2] < 3 {
		return t, false
	}
	p, q, r := pts[t.corner[0]], pts[t.corner[1]], pts[t.corner[2]]
	cross := (q.x-p.x)*(r.y-p.y) - (q.y-p.y)*(r.x-p.x)
	t.turn = cross > 0
	// Flat triangles carry no turn.
	return t, math.Abs(cross)*scale*scale > 0.02*t.sides[0]*t.sides[0]
}
