package dust

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

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

// imprint is a shadow of the flat that the subs do not have there.
type imprint struct {
	window
	at    int  // index in Match.Shadows
	large bool // found by its amplitude, not by an edge that is left
}

// newWindow takes a shadow out of the flat: how much darker it is than a
// curved surface through its rim, without what belongs to other shadows.
func newWindow(flat stats.Map, s Shadow, others []Shadow) (window, bool) {
	u, v := flat.Cell(s.X, s.Y)
	w := window{i: int(math.Round(u)), j: int(math.Round(v))}
	w.radius = max(1, s.Diameter/2/float64(flat.Step))
	w.reach = 1.7*w.radius + 2
	n := int(w.reach)
	var rim []float64
	for dj := -n; dj <= n; dj++ {
		for di := -n; di <= n; di++ {
			r := math.Hypot(float64(di), float64(dj))
			if r > w.reach || !flat.Inside(w.i+di, w.j+dj) {
				continue
			}
			w.cells = append(w.cells, [2]int{di, dj})
			v := flat.At(w.i+di, w.j+dj)
			inside := r < 1.15*w.radius+0.5
			blind := math.IsNaN(v) || !inside && inOther(flat, w.i+di, w.j+dj, s, others)
			w.blind = append(w.blind, blind)
			if inside || blind {
				v = math.NaN()
			}
			rim = append(rim, v)
		}
	}
	around, ok := w.fit(rim, nil)
	if !ok {
		return w, false
	}
	w.depth = make([]float64, len(w.cells))
	for k, c := range w.cells {
		if !w.blind[k] {
			w.depth[k] = 1 - flat.At(w.i+c[0], w.j+c[1])/w.surface(around, k)
		}
		if math.IsNaN(w.depth[k]) || math.IsInf(w.depth[k], 0) {
			w.depth[k], w.blind[k] = 0, true
		}
		w.energy += w.depth[k] * w.depth[k]
	}
	return w, w.energy > 0
}

// inOther tells whether a cell lies in a shadow that is not this one.
func inOther(m stats.Map, i, j int, s Shadow, others []Shadow) bool {
	x, y := m.Centre(i, j)
	for _, o := range others {
		if (o.X != s.X || o.Y != s.Y) && math.Hypot(x-o.X, y-o.Y) < 0.6*o.Diameter {
			return true
		}
	}
	return false
}

// terms of the surface that the surroundings are fitted with, at cell k.
func (w *window) terms(k int) [6]float64 {
	u, v := float64(w.cells[k][0])/w.reach, float64(w.cells[k][1])/w.reach
	return [6]float64{1, u, v, u * u, u * v, v * v}
}

func (w *window) surface(c []float64, k int) float64 {
	z := 0.0
	for t, v := range w.terms(k) {
		z += c[t] * v
	}
	return z
}

// fit is the least-squares surface of second order through values, and, when
// shape is given, the amplitude of it as a seventh coefficient. NaN values are
// left out; too few of the others, or too few around the shadow, are no fit.
func (w *window) fit(values, shape []float64) ([]float64, bool) {
	n := 6
	if shape != nil {
		n = 7
	}
	var sums [7][7]float64
	var right, row [7]float64
	used := 0
	for k, v := range values {
		if math.IsNaN(v) {
			continue
		}
		used++
		terms := w.terms(k)
		copy(row[:], terms[:])
		if shape != nil {
			row[6] = shape[k]
		}
		for a := range n {
			for b := a; b < n; b++ {
				sums[a][b] += row[a] * row[b]
			}
			right[a] += row[a] * v
		}
	}
	if used < 3*n {
		return nil, false
	}
	sum := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			sum.SetSym(a, b, sums[a][b])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(sum) || chol.Cond() > 1e12 {
		return nil, false
	}
	var c mat.VecDense
	if err := chol.SolveVecTo(&c, mat.NewVecDense(n, right[:n])); err != nil {
		return nil, false
	}
	return c.RawVector().Data, true
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

// amplitude is that of look. Where the whole window is seen it is the projection
// on the shape without its own slope and curvature, which is the same fit.
func (w *window) amplitude(m stats.Map, i, j int) (float64, bool) {
	if w.bare == nil {
		w.bare = slices.Clone(w.depth)
		w.flatten(w.bare)
	}
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

// elsewhere is what noise and the structure of the sky feign: the same fit at
// places where the flat has no shadow. The places nearest by count for
// themselves: a nebula may fill only a part of the frame.
func (r *residue) elsewhere(w *window, all []Shadow) (sigma, power, powerSigma float64, ok bool) {
	const nearest, most = 16, 96
	stride := max(1, int(w.radius))
	var amplitudes, powers []float64
	// Squares around the shadow, ever wider: the nearest places come first.
	for ring := 1; ring*stride < max(r.Width, r.Height) && len(amplitudes) < most; ring++ {
		for dj := -ring; dj <= ring; dj++ {
			for di := -ring; di <= ring; di++ {
				i, j := w.i+di*stride, w.j+dj*stride
				if max(di, -di, dj, -dj) != ring || !r.Inside(i, j) || r.overlaps(w, i, j, all) {
					continue
				}
				if a, rest, ok := w.look(r.Map, i, j); ok {
					amplitudes = append(amplitudes, a)
					powers = append(powers, w.power(rest))
				}
			}
		}
	}
	if len(amplitudes) < nearest {
		return 0, 0, 0, false
	}
	scatter := func(x []float64) float64 { // about 0, the amplitude of no shadow
		off := make([]float64, len(x))
		for i, v := range x {
			off[i] = math.Abs(v)
		}
		return stats.MADToSigma * stats.MedianInPlace(off)
	}
	sigma = max(scatter(amplitudes), scatter(amplitudes[:nearest]))
	power = max(stats.Median(powers), stats.Median(powers[:nearest]))
	powerSigma = max(stats.MADSigma(powers), stats.MADSigma(powers[:nearest]))
	return sigma, power, powerSigma, true
}

// overlaps tells whether a window at a cell touches a shadow of the flat.
func (r *residue) overlaps(w *window, i, j int, all []Shadow) bool {
	x, y := r.Centre(i, j)
	for _, s := range all {
		if math.Hypot(x-s.X, y-s.Y) < w.reach*float64(r.Step)+0.6*s.Diameter {
			return true
		}
	}
	return false
}

// judge tells whether the subs have one shadow of the flat; the imprint is nil
// unless it does not match.
func (r *residue) judge(s Shadow, all []Shadow) (ShadowMatch, *imprint) {
	m := ShadowMatch{Shadow: s, State: ShadowUnknown, MovedX: math.NaN(), MovedY: math.NaN()}
	cannot := func(format string, args ...any) (ShadowMatch, *imprint) {
		m.Why = fmt.Sprintf(format, args...)
		if !m.Imprint.OK() || m.Imprint.N == 0 {
			m.Imprint, m.ResiduePct = stats.Missing(m.Why), stats.Missing(m.Why)
		}
		return m, nil
	}
	w, ok := newWindow(r.flat, s, all)
	if !ok {
		return cannot("the shadow is too small, or at the edge of the frame")
	}
	amplitude, rest, ok := w.look(r.Map, w.i, w.j)
	if !ok {
		return cannot("stars or the edge of the frame cover too much of the shadow")
	}
	sigma, power, powerSigma, ok := r.elsewhere(&w, all)
	if !ok {
		return cannot("too little of the frame is free of stars and shadows to measure the noise")
	}
	m.Imprint = stats.Known(amplitude, sigma, len(r.subs))
	excess := w.power(rest) - power
	depth := s.DepthPct / (1 - s.DepthPct/100) // over what the flat lets through
	m.ResiduePct = stats.Known(depth*max(math.Abs(amplitude), min(1, math.Sqrt(max(0, excess)))), depth*sigma, len(r.subs))
	if sigma > finestTold {
		return cannot("a shadow of %.2g %% against a noise of %.2g %% of the sky at its size: the subs' sky is too faint, too few subs, or it is full of nebula", s.DepthPct, sigma*s.DepthPct)
	}
	large := math.Abs(amplitude) > max(imprintLimit, imprintSigma*sigma)
	if !large && excess <= max(residueLimit*residueLimit, imprintSigma*powerSigma) {
		m.State = ShadowMatches
		return m, nil
	}
	v := r.watch(&w)
	if large {
		share, err := v.moving(w.depth)
		amplitude -= share
		if doubt := math.Hypot(math.Hypot(sigma, err), skyDoubt*share); math.Abs(amplitude) < max(imprintLimit, fixedSigma*doubt) {
			return cannot("%s", elsewhereIs(share > fixedSigma*err))
		}
	} else if z := v.stays(); z < fixedSigma {
		return cannot("%s", elsewhereIs(z < -fixedSigma))
	}
	if math.Abs(amplitude) > brightest || excess > strongest {
		return cannot("what lies there is stronger than the shadow could leave: a reflection, a galaxy or a glow, not dust")
	}
	m.State = ShadowPartly
	if amplitude > 0.7 {
		m.State = ShadowGone
	}
	return m, &imprint{window: w, large: large}
}

// elsewhereIs words that a pattern is not shown to be fixed to the sensor.
func elsewhereIs(moves bool) string {
	if moves {
		return "what lies there moves with the stars: nebula or galaxy, not dust"
	}
	return "the subs were dithered too little to tell dust from nebula there"
}
