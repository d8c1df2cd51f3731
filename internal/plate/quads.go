package plate

import (
	"math"
	"slices"
)

// shape is what of four stars no shift, turn, scale or mirror changes: the distances
// between them, sorted, over the longest. The last five of six are kept.
type shape [5]float64

// alike is how far two shapes of the same stars may differ in each number: by errors of
// place of a pixel in some hundred, by distortion and by the projection of wide fields.
const alike = 0.008

type quad struct {
	shape   shape
	corners [4]int
	longest float64 // px
}

// distances are those between four places, in the order 01 02 03 12 13 23.
func distances(between func(i, j int) float64) [6]float64 {
	return [6]float64{between(0, 1), between(0, 2), between(0, 3), between(1, 2), between(1, 3), between(2, 3)}
}

// shapeOf sorts distances into a shape and its size. Sorting six numbers by hand is what
// the search of the whole sky spends its time on.
func shapeOf(d [6]float64) (s shape, longest float64) {
	// Twelve exchanges without a branch (Knuth, vol. 3, 5.3.4). Bits of positive numbers
	// are in the order of the numbers.
	a, b, c := math.Float64bits(d[0]), math.Float64bits(d[1]), math.Float64bits(d[2])
	e, f, g := math.Float64bits(d[3]), math.Float64bits(d[4]), math.Float64bits(d[5])
	a, g = ordered(a, g)
	b, e = ordered(b, e)
	c, f = ordered(c, f)
	b, c = ordered(b, c)
	e, f = ordered(e, f)
	a, e = ordered(a, e)
	c, g = ordered(c, g)
	a, b = ordered(a, b)
	c, e = ordered(c, e)
	f, g = ordered(f, g)
	b, c = ordered(b, c)
	e, f = ordered(e, f)
	longest = math.Float64frombits(a)
	for i, v := range [5]uint64{b, c, e, f, g} {
		s[i] = math.Float64frombits(v) / longest
	}
	return s, longest
}

func ordered(x, y uint64) (larger, smaller uint64) { return max(x, y), min(x, y) }

func (s *shape) like(o *shape) bool {
	for i := range s {
		if math.Abs(s[i]-o[i]) > alike {
			return false
		}
	}
	return true
}

// table finds the frame's quads that are like a shape. A quad stands in every bin that
// its shape can fall into with an error of alike, so that a look is at one bin. Bins
// share buckets; the shape itself separates what else is in one.
type table struct {
	quads   []quad
	first   [buckets + 1]int32 // where each bucket's entries begin
	entries []entry
}

// entry is a quad in a bin, with the two numbers by which most there turn out to be
// others than the one that is sought: quads lie all over memory.
type entry struct {
	quad     int32
	longest  float32 // px
	shortest float32 // last of the shape, which no bin tells
}

const buckets = 1 << 16

// binSide is the width of a bin. The wider, the fewer bins hold a quad twice, the
// narrower, the fewer quads are compared in vain.
const binSide = 4 * alike

func bucket(k0, k1, k2, k3 int) uint32 {
	b := uint32(k0) | uint32(k1)<<6 | uint32(k2)<<12 | uint32(k3)<<18
	return b * 2654435761 >> 16 // multiplicative hash (Knuth, vol. 3, 6.4)
}

func newTable(quads []quad) *table {
	t := &table{quads: quads}
	for i := range quads {
		eachBucket(&quads[i].shape, func(b uint32) { t.first[b+1]++ })
	}
	for b := range buckets {
		t.first[b+1] += t.first[b]
	}
	t.entries = make([]entry, t.first[buckets])
	next := t.first
	for i := range quads {
		eachBucket(&quads[i].shape, func(b uint32) {
			t.entries[next[b]] = entry{int32(i), float32(quads[i].longest), float32(quads[i].shape[4])}
			next[b]++
		})
	}
	return t
}

// eachBucket calls f for every bin that a shape can fall into.
func eachBucket(s *shape, f func(uint32)) {
	a0, a1 := binsOf(s[0])
	b0, b1 := binsOf(s[1])
	c0, c1 := binsOf(s[2])
	d0, d1 := binsOf(s[3])
	for a := a0; a <= a1; a++ {
		for b := b0; b <= b1; b++ {
			for c := c0; c <= c1; c++ {
				for d := d0; d <= d1; d++ {
					f(bucket(a, b, c, d))
				}
			}
		}
	}
}

// binsOf are the first and the last bin that a number can fall into.
func binsOf(x float64) (first, last int) {
	return int(max(0, x-alike) / binSide), int((x + alike) / binSide)
}

func (t *table) look(s *shape) []entry {
	b := bucket(int(s[0]/binSide), int(s[1]/binSide), int(s[2]/binSide), int(s[3]/binSide))
	return t.entries[t.first[b]:t.first[b+1]]
}

// frameQuads lists all quads of some places, those left out that are too small to have
// a shape that errors leave alone: under least px.
func frameQuads(pts []point, least float64) []quad {
	n := len(pts)
	apart := make([][]float64, n)
	for a, p := range pts {
		for _, q := range pts[:a] {
			apart[a] = append(apart[a], math.Hypot(p.x-q.x, p.y-q.y))
		}
	}
	list := make([]quad, 0, n*(n-1)*(n-2)*(n-3)/24)
	for a := range pts {
		for b := range a {
			for c := range b {
				for d := range c {
					s, longest := shapeOf([6]float64{apart[a][b], apart[a][c], apart[a][d], apart[b][c], apart[b][d], apart[c][d]})
					if longest >= least && s[4] > minSide {
						list = append(list, quad{s, [4]int{a, b, c, d}, longest})
					}
				}
			}
		}
	}
	return list
}

// minSide is the shortest distance in a quad over its longest: two stars closer together
// may be one star elsewhere, and tell nothing.
const minSide = 0.03

// orders are all ways to name four stars.
var orders = func() (list [][4]int) {
	for a := range 4 {
		for b := range 4 {
			for c := range 4 {
				if d := 6 - a - b - c; a != b && a != c && b != c && d >= 0 && d < 4 && d != a && d != b && d != c {
					list = append(list, [4]int{a, b, c, d})
				}
			}
		}
	}
	return list
}()

// named gives the ways to name the stars of one quad so that its distances are those of
// another, both over their longest; two for a quad that is nearly its own mirror.
func named(sky, frame [6]float64) [][4]int {
	var list [][4]int
	ls, lf := slices.Max(sky[:]), slices.Max(frame[:])
	index := [4][4]int{{0, 0, 1, 2}, {0, 0, 3, 4}, {1, 3, 0, 5}, {2, 4, 5, 0}}
	for _, o := range orders {
		fits := true
		k := 0
		for i := range 4 {
			for j := i + 1; j < 4 && fits; j++ {
				fits = math.Abs(sky[k]/ls-frame[index[o[i]][o[j]]]/lf) <= 2*alike
				k++
			}
		}
		if fits {
			list = append(list, o)
		}
	}
	return list
}
