package registration

import (
	"math"
	"slices"
	"sync"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

type matcher struct {
	ref   *stars.Field
	index *stars.Neighbours
	worst float64 // error of the place of its least sure star, px

	filling sync.Mutex
	sets    map[int]*triangleSet // by how many stars
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
		m.sets[n] = newTriangleSet(brightest(m.ref, n))
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
	tried := 0
	for _, t := range allTriangles(pts, scale) {
		// Positions to 0.5 px and distortion or refraction of a thousandth.
		for o := range set.alike(&t, 1+0.001*t.sides[0]) {
			tried++
			var corners tied
			for k := range 3 {
				corners.add(pts[t.corner[k]], set.points[o.corner[k]], 1)
			}
			guess, ok := corners.similarity()
			if !ok {
				continue
			}
			if better, ok := m.supported(pts, guess.Transform, tried); ok {
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
	var near tied
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
			near.add(p, point{s.X, s.Y, best}, 1)
		}
	}
	lambda := float64(inside) * density * math.Pi * reach * reach
	// Three of the pairs are the triangle's own.
	if len(near.a) < minStars || stats.PoissonTail(len(near.a)-2, lambda)*float64(tried) > 1e-4 {
		return t, false
	}
	better, ok := near.similarity()
	return better.Transform, ok
}

// refine pairs all stars under a transform known to within reach px and fits it
// anew, narrowing the reach; in the end with all pairs that noise may part so far: were
// those left out that it has, errors would be too small.
func (m *matcher) refine(f *stars.Field, t Transform, reach float64) (tie, bool) {
	rms, floor := math.NaN(), samePlace
	for step := range 4 {
		used := m.tie(f, m.pair(f, t, reach, 0, fixing), floor)
		next, ok := used.fit(t)
		if !ok {
			return tie{}, false
		}
		t = next.Transform
		d := used.distances(t)
		rms, floor = scatterOf(d), scatterOf(d[:min(len(d), max(sharpest, len(d)/3))])
		if step >= 2 {
			reach = max(3*rms, 0.3)
		} else {
			reach = min(reach, max(4*rms, 1))
		}
	}
	if rms > 1.2 {
		return tie{}, false
	}
	pairs := m.pair(f, t, reach, placeSigma, len(f.Stars))
	fit, ok := m.tie(f, pairs, floor).fit(t)
	if !ok {
		return tie{}, false
	}
	a := tie{NewAlignment(f, m.ref, fit.Transform, pairs), fit}
	a.tellErrors(m.ref)
	a.Pairs = m.pair(f, fit.Transform, max(reach, samePlace), placeSigma, len(f.Stars))
	return a, true
}

// fit is the map that points have, near one that they had before; false for too few, and
// for one that stretches, as a telescope does not: it ties chance pairs.
func (t *tied) fit(before Transform) (fitted, bool) {
	if len(t.a) < minStars {
		return fitted{}, false
	}
	f, ok := t.similarity()
	if len(t.a) >= 12 {
		if full, good := t.affine(); good {
			f, ok = full, true
		}
	}
	return f, ok && math.Abs(math.Log(f.scale()/before.scale())) <= 0.02
}

// fixing is how many pairs, those of the brightest stars, fix the six figures of a map.
const fixing = 500

// sharpest is the fewest pairs, of the brightest stars, by which it is told how far apart
// images are where noise does not move them: pixels and neighbours do.
const sharpest = 8

// tie gives pairs of stars the weights of their places: the inverse of the variance that
// noise makes, and of that of floor px along each axis that anything else does.
func (m *matcher) tie(f *stars.Field, pairs [][2]int, floor float64) *tied {
	t := &tied{}
	for _, p := range pairs[:min(len(pairs), fixing)] {
		s, r := &f.Stars[p[0]], &m.ref.Stars[p[1]]
		here, there := placeErr(f, s), placeErr(m.ref, r)
		t.add(point{s.X, s.Y, p[0]}, point{r.X, r.Y, p[1]}, 1/(here*here+there*there+floor*floor+1e-12))
	}
	return t
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

// distances are those of the mapped points from their partners, px.
func (t *tied) distances(by Transform) []float64 {
	d := make([]float64, len(t.a))
	for i, p := range t.a {
		x, y := by.Apply(p.x, p.y)
		d[i] = math.Hypot(x-t.b[i].x, y-t.b[i].y)
	}
	return d
}

// scatterOf is the robust scatter per coordinate that distances tell, px.
func scatterOf(d []float64) float64 {
	d = slices.Clone(d)
	slices.Sort(d)
	// The median distance of a round Gaussian is 1.17741 sigma.
	return d[len(d)/2] / 1.17741
}

// pair lists stars that fall on each other, each used once, brightest first: within
// reach px, or within so many standard errors of their places; most pairs at most.
func (m *matcher) pair(f *stars.Field, t Transform, reach, sigmas float64, most int) [][2]int {
	out := make([][2]int, 0, min(len(f.Stars), len(m.ref.Stars), most))
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
			if out = append(out, [2]int{i, best}); len(out) == most {
				break
			}
		}
	}
	return out
}
