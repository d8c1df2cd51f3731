package registration

import (
	"cmp"
	"iter"
	"math"
	"slices"
	"sort"
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

// apart is the distance of two triangles' sides, all three together, px.
func (t *triangle) apart(o *triangle) float64 {
	a, b, c := t.sides[0]-o.sides[0], t.sides[1]-o.sides[1], t.sides[2]-o.sides[2]
	return math.Sqrt(a*a + b*b + c*c)
}

// triangleSet is all triangles of some stars, in rising order of their longest sides.
type triangleSet struct {
	points []point
	list   []triangle
}

func newTriangleSet(points []point) *triangleSet {
	s := &triangleSet{points, allTriangles(points, 1)}
	slices.SortFunc(s.list, func(a, b triangle) int {
		return cmp.Or(cmp.Compare(a.sides[0], b.sides[0]), cmp.Compare(a.sides[1], b.sides[1]))
	})
	return s
}

// alike are the triangles whose sides are those of t within tol px, and that turn the
// same way.
func (s *triangleSet) alike(t *triangle, tol float64) iter.Seq[*triangle] {
	return func(yield func(*triangle) bool) {
		from := sort.Search(len(s.list), func(k int) bool { return s.list[k].sides[0] >= t.sides[0]-tol })
		for k := from; k < len(s.list) && s.list[k].sides[0] <= t.sides[0]+tol; k++ {
			if o := &s.list[k]; o.turn == t.turn && o.apart(t) <= tol && !yield(o) {
				return
			}
		}
	}
}

type point struct {
	x, y float64
	star int // index in the field's list
}

// allTriangles lists every triangle of the points with sides of at least 20 px,
// so that errors of position do not turn it, multiplied by scale. Nearly
// isosceles ones are left out: their corners could be taken for each other.
func allTriangles(pts []point, scale float64) []triangle {
	var out []triangle
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
