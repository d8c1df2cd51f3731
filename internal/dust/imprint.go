package dust

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"fitsqa/internal/stats"
)

// window is a shadow of the flat and some of its surroundings.
type window struct {
	i, j   int     // cell of its middle
	radius float64 // of the shadow, cells
	reach  float64 // of the window, cells
	cells  [][2]int
	depth  []float64 // light lost in each cell, as a fraction
	energy float64   // sum of squares of depth
}

// imprint is a shadow of the flat that the subs do not have there.
type imprint struct {
	window
	at int // index in Match.Shadows
}

// newWindow takes a shadow out of the flat: how much darker it is than a
// curved surface through its rim.
func newWindow(flat stats.Map, s Shadow) (window, bool) {
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
			if r < 1.15*w.radius+0.5 {
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
	for k := range w.cells {
		w.depth[k] = 1 - flat.At(w.i+w.cells[k][0], w.j+w.cells[k][1])/w.surface(around, k)
		if math.IsNaN(w.depth[k]) || math.IsInf(w.depth[k], 0) {
			w.depth[k] = 0
		}
		w.energy += w.depth[k] * w.depth[k]
	}
	return w, w.energy > 0
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
	sum := mat.NewSymDense(n, nil)
	right := mat.NewVecDense(n, nil)
	used := 0
	var row [7]float64
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
				sum.SetSym(a, b, sum.At(a, b)+row[a]*row[b])
			}
			right.SetVec(a, right.AtVec(a)+row[a]*v)
		}
	}
	if used < 3*n {
		return nil, false
	}
	var chol mat.Cholesky
	if !chol.Factorize(sum) || chol.Cond() > 1e12 {
		return nil, false
	}
	var c mat.VecDense
	if err := chol.SolveVecTo(&c, right); err != nil {
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
	w, ok := newWindow(r.flat, s)
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
	pattern := w.smoothed(rest)
	m.ResiduePct = stats.Known(100*peak(pattern), 100*sigma*s.DepthPct/100, len(r.subs))
	if sigma > finestTold {
		return cannot("a shadow of %.2g %% against a noise of %.2g %% of the sky at its size: the subs' sky is too faint, too few subs, or it is full of nebula", s.DepthPct, sigma*s.DepthPct)
	}
	excess := w.power(rest) - power
	switch {
	case math.Abs(amplitude) > max(imprintLimit, imprintSigma*sigma):
	case excess > max(residueLimit*residueLimit, imprintSigma*powerSigma):
	default:
		m.State = ShadowMatches
		return m, nil
	}
	if z := r.fixedToSensor(&w, pattern); z < fixedSigma {
		return cannot("%s", movesWithSky(z))
	}
	m.State = ShadowPartly
	if amplitude > 0.7 {
		m.State = ShadowGone
	}
	return m, &imprint{window: w}
}

// smoothed is what is left with each cell averaged with its neighbours, so
// that it is not one cell's noise; NaN where fewer than six of nine are seen.
func (w *window) smoothed(rest []float64) []float64 {
	at := map[[2]int]float64{}
	for k, c := range w.cells {
		if !math.IsNaN(rest[k]) {
			at[c] = rest[k]
		}
	}
	out := make([]float64, len(rest))
	for k, c := range w.cells {
		sum, n := 0.0, 0.0
		for dj := -1; dj <= 1; dj++ {
			for di := -1; di <= 1; di++ {
				if v, ok := at[[2]int{c[0] + di, c[1] + dj}]; ok {
					sum += v
					n++
				}
			}
		}
		out[k] = math.NaN()
		if n >= 6 {
			out[k] = sum / n
		}
	}
	return out
}

// peak is the largest of a pattern, dark or bright.
func peak(pattern []float64) float64 {
	peak := 0.0
	for _, v := range pattern {
		if math.Abs(v) > peak { // false for NaN
			peak = math.Abs(v)
		}
	}
	return peak
}
