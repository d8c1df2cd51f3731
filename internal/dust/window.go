package dust

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// window is a shadow of the flat and some of its surroundings.
type window struct {
	i, j   int     // cell of its middle
	radius float64 // of the shadow, cells
	reach  float64 // of the window, cells
	cells  [][2]int
	blind  []bool    // the cell is not known, or lies in another shadow
	depth  []float64 // light lost in each cell, as a fraction; 0 in a blind one
	energy float64   // sum of squares of depth
	bare   []float64 // depth without slope and curvature; made when asked for
}

// newWindow takes a shadow out of the flat: how much darker it is than a
// curved surface through its rim, without what belongs to other shadows.
func newWindow(flat stats.Map, s Shadow, others []Shadow) (window, bool) {
	var w window
	ok := w.take(flat, s, others)
	return w, ok
}

// take makes the window that of a shadow; it is false where there is too little to see.
func (w *window) take(flat stats.Map, s Shadow, others []Shadow) bool {
	u, v := flat.Cell(s.X, s.Y)
	w.i, w.j = int(math.Round(u)), int(math.Round(v))
	w.radius = max(1, s.Diameter/2/float64(flat.Step))
	w.reach = 1.7*w.radius + 2
	n := int(w.reach)
	most := (2*n + 1) * (2*n + 1)
	w.cells, w.blind, w.depth = slices.Grow(w.cells[:0], most), slices.Grow(w.blind[:0], most), slices.Grow(w.depth[:0], most)
	beside := within(others, s, (w.reach+1)*float64(flat.Step))
	for dj := -n; dj <= n; dj++ {
		for di := -n; di <= n; di++ {
			r := math.Hypot(float64(di), float64(dj))
			if r > w.reach || !flat.Inside(w.i+di, w.j+dj) {
				continue
			}
			w.cells = append(w.cells, [2]int{di, dj})
			v := flat.At(w.i+di, w.j+dj)
			inside := r < 1.15*w.radius+0.5
			blind := math.IsNaN(v) || !inside && inAny(flat, w.i+di, w.j+dj, beside)
			w.blind = append(w.blind, blind)
			if inside || blind {
				v = math.NaN()
			}
			w.depth = append(w.depth, v) // of the rim, its light
		}
	}
	around, ok := w.fit(w.depth, nil)
	if !ok {
		return false
	}
	w.energy = 0
	for k, c := range w.cells {
		w.depth[k] = 0
		if !w.blind[k] {
			w.depth[k] = 1 - flat.At(w.i+c[0], w.j+c[1])/w.surface(around, k)
		}
		if math.IsNaN(w.depth[k]) || math.IsInf(w.depth[k], 0) {
			w.depth[k], w.blind[k] = 0, true
		}
		w.energy += w.depth[k] * w.depth[k]
	}
	return w.energy > 0
}

// noiseShare is how much the noise of the flat's cells, relative to their light, makes
// up of what look fits with: the shadow's shape without slope and curvature.
func (w *window) noiseShare(noise float64) float64 {
	w.strip()
	seen, energy := 0.0, 0.0
	for k, blind := range w.blind {
		if !blind {
			seen++
			energy += w.bare[k] * w.bare[k]
		}
	}
	return seen * noise * noise / energy
}

// within lists the other shadows of which a part lies within reach px of this one's middle.
func within(others []Shadow, s Shadow, reach float64) (near []Shadow) {
	for _, o := range others {
		if (o.X != s.X || o.Y != s.Y) && math.Hypot(s.X-o.X, s.Y-o.Y) < reach+0.6*o.Diameter {
			near = append(near, o)
		}
	}
	return near
}

func inAny(m stats.Map, i, j int, shadows []Shadow) bool {
	x, y := m.Centre(i, j)
	for _, o := range shadows {
		if math.Hypot(x-o.X, y-o.Y) < 0.6*o.Diameter {
			return true
		}
	}
	return false
}

// flatten takes a surface of second order off a patch: the sky's gradient
// differs from sub to sub.
func (w *window) flatten(z []float64) {
	c, ok := w.fit(z, nil)
	for k := range z {
		if !ok {
			z[k] = math.NaN()
			continue
		}
		z[k] -= w.surface(c, k)
	}
}

// look fits the shadow's shape to a map with the window moved to a cell: the
// amplitude, and what is left of the map without its smooth part. A patch of
// which less than two thirds can be seen tells nothing.
func (w *window) look(m stats.Map, i, j int) (amplitude float64, rest []float64, ok bool) {
	rest = make([]float64, len(w.cells))
	seen := 0
	for k, c := range w.cells {
		rest[k] = math.NaN()
		if m.Inside(i+c[0], j+c[1]) {
			rest[k] = m.At(i+c[0], j+c[1])
		}
		if !math.IsNaN(rest[k]) {
			seen++
		}
	}
	if 3*seen < 2*len(w.cells) {
		return 0, nil, false
	}
	c, ok := w.fit(rest, w.depth)
	if !ok {
		return 0, nil, false
	}
	for k := range rest {
		rest[k] -= w.surface(c, k)
	}
	return c[6], rest, true
}

func (w *window) strip() {
	if w.bare == nil {
		w.bare = slices.Clone(w.depth)
		w.flatten(w.bare)
	}
}

// amplitude is that of look. Where the whole window is seen it is the projection
// on the shape without its own slope and curvature, which is the same fit.
func (w *window) amplitude(m stats.Map, i, j int) (float64, bool) {
	w.strip()
	var sum, squares float64
	for k, c := range w.cells {
		if !m.Inside(i+c[0], j+c[1]) || math.IsNaN(m.At(i+c[0], j+c[1])) {
			a, _, ok := w.look(m, i, j)
			return a, ok
		}
		sum += w.bare[k] * m.At(i+c[0], j+c[1])
		squares += w.bare[k] * w.bare[k]
	}
	return sum / squares, squares > 0
}

// power is the sum of squares of what is left, as a multiple of the shadow's,
// unseen cells taken to be like the others.
func (w *window) power(rest []float64) float64 {
	sum, seen := 0.0, 0.0
	for _, v := range rest {
		if !math.IsNaN(v) {
			sum += v * v
			seen++
		}
	}
	return sum / seen * float64(len(rest)) / w.energy
}

// cut takes the window's cells out of a map, without slope and curvature.
func (w *window) cut(m stats.Map) []float64 {
	z := make([]float64, len(w.cells))
	for k, c := range w.cells {
		z[k] = math.NaN()
		if m.Inside(w.i+c[0], w.j+c[1]) {
			z[k] = m.At(w.i+c[0], w.j+c[1])
		}
	}
	w.flatten(z)
	return z
}

// rings is a shadow with its depth averaged around its middle, which noise hardly
// enters.
func (w *window) rings() []float64 {
	profile := w.profile(0, 0)
	z := make([]float64, len(w.cells))
	for k, c := range w.cells {
		if r := int(math.Round(math.Hypot(float64(c[0]), float64(c[1])))); r < len(profile) && float64(r) <= 1.15*w.radius+0.5 {
			z[k] = profile[r]
		}
	}
	return z
}

// shape is the middle of what is dark in a window, cells from the window's own,
// its radius, out to where its rings are half as deep as the darkest, and the
// depth of that one.
func (w *window) shape() (x, y, radius, depth float64, ok bool) {
	limit := 0.5 * slices.Max(w.profile(0, 0))
	var sum float64
	for k, c := range w.cells {
		if u, v := float64(c[0]), float64(c[1]); w.depth[k] > limit && math.Hypot(u, v) < 1.3*w.radius+1 {
			x, y, sum = x+u, y+v, sum+1
		}
	}
	if !(limit > 0) || sum < 4 {
		return 0, 0, 0, 0, false
	}
	x, y = x/sum, y/sum
	profile := w.profile(x, y)
	depth = slices.Max(profile)
	for r, d := range profile {
		if d > depth/2 {
			next := 0.0
			if r+1 < len(profile) {
				next = profile[r+1]
			}
			// Half depth lies between this ring and the next, whose middles are r and r+1.
			radius = float64(r) + min(1, max(0, (d-depth/2)/max(d-next, 1e-12)))
		}
	}
	return x, y, max(1, radius), depth, depth > 0
}

// profile is the mean depth of rings one cell wide about a place; ring r reaches
// from r-1/2 to r+1/2, and the middle nine cells are one.
func (w *window) profile(x, y float64) []float64 {
	n := int(1.3*w.radius) + 2
	sum, count := make([]float64, n), make([]float64, n)
	for k, c := range w.cells {
		if w.blind[k] {
			continue
		}
		r := math.Hypot(float64(c[0])-x, float64(c[1])-y)
		if r < 1.5 {
			r = 1
		}
		if at := int(math.Round(r)); at < n {
			sum[at] += w.depth[k]
			count[at]++
		}
	}
	for r := range sum {
		sum[r] /= max(1, count[r])
	}
	sum[0] = sum[1]
	return sum
}

// middleWithin tells whether a shadow's middle lies well in the frame: of one that
// the edge cuts so much remains that a band along the edge is another thing.
func (w *window) middleWithin(m stats.Map) bool {
	r := int(math.Ceil(w.radius / 2))
	return m.Inside(w.i-r, w.j-r) && m.Inside(w.i+r, w.j+r)
}

func (w *window) picture(pattern []float64) stats.Map {
	n := int(w.reach) + 1
	m := stats.Map{Width: 2*n + 1, Height: 2*n + 1, Step: 1, Values: make([]float64, (2*n+1)*(2*n+1))}
	for k, c := range w.cells {
		if v := pattern[k]; !math.IsNaN(v) {
			m.Values[(c[1]+n)*m.Width+c[0]+n] = v
		}
	}
	return m
}
