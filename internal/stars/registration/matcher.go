package registration

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/spatial/kdtree"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// matcher recognises the reference field.
type matcher struct {
	ref   *stars.Field
	index *stars.Neighbours
	worst float64 // error of the place of its least sure star, px

	filling sync.Mutex
	sets    map[int]*triangleSet // by how many stars
}

// triangleSet is the triangles of the reference's n brightest stars.
type triangleSet struct {
	points []point
	tree   *kdtree.Tree
}

func newMatcher(ref *stars.Field) *matcher {
	m := &matcher{ref: ref, index: stars.NewNeighbours(ref.Stars), sets: map[int]*triangleSet{}}
	for k := range ref.Stars {
		m.worst = max(m.worst, placeErr(ref, &ref.Stars[k]))
	}
	return m
}

func (m *matcher) set(n int) *triangleSet {
	m.filling.Lock()
	defer m.filling.Unlock()
	if m.sets[n] == nil {
		points := brightest(m.ref, n)
		m.sets[n] = &triangleSet{points, kdtree.New(allTriangles(points, 1), false)}
	}
	return m.sets[n]
}

// brightest lists the n brightest stars that are not so close to a brighter one
// that they might be one star in another field.
func brightest(f *stars.Field, n int) []point {
	var out []point
	for i, s := range f.Stars {
		close := false
		for _, o := range out {
			if math.Abs(o.x-s.X)+math.Abs(o.y-s.Y) < 12 {
				close = true
				break
			}
		}
		if !close {
			out = append(out, point{s.X, s.Y, i})
		}
		if len(out) == n {
			break
		}
	}
	return out
}

// byTriangles proposes transforms from like triangles until one is supported.
func (m *matcher) byTriangles(pts []point, set *triangleSet, scale float64) (Transform, bool) {
	if len(pts) < 3 || set.tree.Len() == 0 {
		return Transform{}, false
	}
	tried := 0
	for _, t := range allTriangles(pts, scale) {
		// Positions to 0.5 px and distortion or refraction of a thousandth.
		tol := 1 + 0.001*t.sides[0]
		keep := kdtree.NewDistKeeper(tol * tol)
		set.tree.NearestSet(keep, t)
		for _, c := range keep.Heap {
			o, ok := c.Comparable.(triangle)
			if !ok || o.turn != t.turn {
				continue
			}
			tried++
			var a, b [3]point
			for k := range 3 {
				a[k], b[k] = pts[t.corner[k]], set.points[o.corner[k]]
			}
			guess, ok := similarity(a[:], b[:])
			if !ok {
				continue
			}
			if better, ok := m.supported(pts, guess, tried); ok {
				return better, true
			}
			if tried > 20000 {
				return Transform{}, false
			}
		}
	}
	return Transform{}, false
}

// supported counts how many of the points a transform brings onto stars of the
// reference and compares that with chance: with lambda chance hits expected, k
// or more come by themselves with the Poisson probability P(>= k), and that is
// to stay below 1e-4 over all transforms tried.
func (m *matcher) supported(pts []point, t Transform, tried int) (Transform, bool) {
	const reach = 3.0
	// Only the reference's brighter stars count: faint ones are everywhere.
	most := 4 * len(pts)
	density := float64(min(len(m.ref.Stars), most)) / (float64(m.ref.Width) * float64(m.ref.Height))
	var a, b []point
	inside := 0
	for _, p := range pts {
		x, y := t.Apply(p.x, p.y)
		if x < 0 || y < 0 || x > float64(m.ref.Width-1) || y > float64(m.ref.Height-1) {
			continue
		}
		inside++
		best, dist := -1, reach
		m.index.Within(x, y, reach, func(k int) {
			if s := m.ref.Stars[k]; k < most && math.Hypot(s.X-x, s.Y-y) < dist {
				best, dist = k, math.Hypot(s.X-x, s.Y-y)
			}
		})
		if best >= 0 {
			s := m.ref.Stars[best]
			a, b = append(a, p), append(b, point{s.X, s.Y, best})
		}
	}
	lambda := float64(inside) * density * math.Pi * reach * reach
	// Three of the pairs are the triangle's own.
	if len(a) < minStars || stats.PoissonTail(len(a)-2, lambda)*float64(tried) > 1e-4 {
		return t, false
	}
	return similarity(a, b)
}

// refine pairs all stars under a transform known to within reach px and fits it
// anew, narrowing the reach.
func (m *matcher) refine(f *stars.Field, t Transform, reach float64) (Alignment, bool) {
	var pairs [][2]int
	rms := math.NaN()
	for step := range 5 {
		pairs = m.pair(f, t, reach, 0)
		if len(pairs) < minStars {
			return Alignment{}, false
		}
		var a, b []point
		// The brightest hundreds fix a map of six figures.
		for _, p := range pairs[:min(len(pairs), 500)] {
			s, r := f.Stars[p[0]], m.ref.Stars[p[1]]
			a, b = append(a, point{s.X, s.Y, p[0]}), append(b, point{r.X, r.Y, p[1]})
		}
		next, ok := similarity(a, b)
		if len(a) >= 12 {
			if full, good := affine(a, b); good {
				next, ok = full, true
			}
		}
		// A telescope does not stretch: a map that does ties chance pairs.
		if !ok || math.Abs(math.Log(next.scale()/t.scale())) > 0.02 {
			return Alignment{}, false
		}
		t = next
		rms = scatterOf(a, b, t)
		if step >= 2 {
			reach = max(3*rms, 0.3)
		} else {
			reach = min(reach, max(4*rms, 1))
		}
	}
	if rms > 1.2 {
		return Alignment{}, false
	}
	// The map is that of the sharpest places. Faint stars, above all broad ones, lie
	// as far from theirs as noise moves them, and those a pixel wide as the pixel does.
	a := NewAlignment(f, m.ref, t, pairs, rms)
	a.Pairs = m.pair(f, t, max(reach, samePlace), placeSigma)
	return a, true
}

// placeErr is the standard error of a star's place along each axis, px, that
// background noise makes: √2 σ over the signal to noise of the star for a Gaussian
// of width σ, by its centre under a window of its own size as by the best fit (from
// the Fisher information, as in Lindegren 2010, ISSI Sci. Rep. 9, 279; from memory).
func placeErr(f *stars.Field, s *stars.Star) float64 {
	if !(f.FWHM.V > 0) || !(s.SNR > 0) {
		return 0
	}
	return math.Sqrt2 * f.FWHM.V / stars.SigmaToFWHM / s.SNR
}

// scatterOf is the robust scatter of mapped positions per coordinate, px.
func scatterOf(a, b []point, t Transform) float64 {
	d := make([]float64, len(a))
	for i := range a {
		x, y := t.Apply(a[i].x, a[i].y)
		d[i] = math.Hypot(x-b[i].x, y-b[i].y)
	}
	slices.Sort(d)
	// The median distance of a round Gaussian is 1.17741 sigma.
	return d[len(d)/2] / 1.17741
}

// pair lists stars that fall on each other, each used once, brightest first: within
// reach px, or within so many standard errors of their places.
func (m *matcher) pair(f *stars.Field, t Transform, reach, sigmas float64) [][2]int {
	out := make([][2]int, 0, min(len(f.Stars), len(m.ref.Stars)))
	used := make([]bool, len(m.ref.Stars))
	for i := range f.Stars {
		s := &f.Stars[i]
		x, y := t.Apply(s.X, s.Y)
		err := placeErr(f, s)
		best, dist := -1, math.Inf(1)
		m.index.Within(x, y, min(farthest, max(reach, sigmas*math.Hypot(err, m.worst))), func(k int) {
			r := &m.ref.Stars[k]
			dx, dy := r.X-x, r.Y-y
			d := math.Sqrt(dx*dx + dy*dy)
			if !used[k] && d < dist && d < max(reach, sigmas*math.Hypot(err, placeErr(m.ref, r))) {
				best, dist = k, d
			}
		})
		if best >= 0 {
			used[best] = true
			out = append(out, [2]int{i, best})
		}
	}
	return out
}
