package dust

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// fixedSigma is from where on a pattern counts as fixed to the sensor.
const fixedSigma = 4

// movesWithSky words that a pattern is not shown to be fixed to the sensor.
func movesWithSky(z float64) string {
	if z < -fixedSigma {
		return "what lies there moves with the stars: nebula or galaxy, not dust"
	}
	return "the subs were dithered too little to tell dust from nebula there"
}

// fixedToSensor tells whether a pattern in a window stays with the sensor or
// moves with the stars, in sigma: positive for the sensor.
//
// A sub that shows the pattern at the same pixels as all others follows A; one
// that shows the same piece of sky follows S, the mean of A moved to where the
// other subs had what this one has here. Its cells y are projected on A - S,
// from the middle between the two: +1/2 for the sensor, -1/2 for the sky. The
// scatter from sub to sub gives the error, which faint stars enter as they are.
func (r *residue) fixedToSensor(w *window, pattern []float64) float64 {
	const most = 24
	var subs []*skyCells
	for i := range r.subs {
		if s := &r.subs[i]; s.ToSky != nil && s.FromSky != nil && len(subs) < most {
			subs = append(subs, s)
		}
	}
	shape := w.picture(pattern)
	var projected, apart []float64 // per sub
	var noise []float64            // of single cells
	for _, s := range subs {
		y, a, moved := make([]float64, len(w.cells)), make([]float64, len(w.cells)), make([]float64, len(w.cells))
		for k, c := range w.cells {
			y[k], a[k], moved[k] = s.At(w.i+c[0], w.j+c[1]), pattern[k], w.onSky(shape, s, subs, k)
			if v := y[k] + a[k]; math.IsNaN(v) {
				y[k], a[k], moved[k] = v, v, v
			}
		}
		plain(w, y)
		plain(w, a)
		plain(w, moved)
		var p, d float64
		for k := range y {
			if !math.IsNaN(y[k]) {
				p += (y[k] - (a[k]+moved[k])/2) * (a[k] - moved[k])
				d += (a[k] - moved[k]) * (a[k] - moved[k])
				noise = append(noise, y[k]-a[k])
			}
		}
		projected, apart = append(projected, p), append(apart, d)
	}
	n := float64(len(subs))
	sum := n * stats.Mean(apart)
	slope := n * stats.Mean(projected) / sum
	var scatter float64
	for i := range projected {
		off := projected[i] - slope*apart[i]
		scatter += off * off
	}
	// No better than the noise of the cells allows: subs that hardly moved
	// scatter little, and tell nothing.
	sigma := stats.MADSigma(noise)
	err := math.Sqrt(max(scatter*n/(n-1), sigma*sigma*sum)) / sum
	z := slope / err
	if len(subs) < fewestSubs || math.IsNaN(z) || math.IsInf(z, 0) {
		return 0
	}
	return z
}

// onSky is the mean of a pattern over where the other subs had what sub s has
// in cell k, and nothing where that is outside the window.
func (w *window) onSky(shape stats.Map, s *skyCells, subs []*skyCells, k int) float64 {
	n := float64(shape.Width-1) / 2
	x, y := s.Centre(w.i+w.cells[k][0], w.j+w.cells[k][1])
	x, y = s.ToSky(x, y)
	sum := 0.0
	for _, o := range subs {
		u, v := o.FromSky(x, y)
		i, j := s.Cell(u, v)
		if z := shape.Sample(n+(i-float64(w.i)), n+(j-float64(w.j))); !math.IsNaN(z) {
			sum += z
		}
	}
	return sum / float64(len(subs))
}

// plain takes the plane off a patch: the sky's gradient differs from sub to sub.
func plain(w *window, z []float64) {
	var s stats.PlaneSums
	for k, v := range z {
		if !math.IsNaN(v) {
			t := w.terms(k)
			s.Add(t[1], t[2], v)
		}
	}
	p := s.Solve()
	for k := range z {
		t := w.terms(k)
		z[k] -= p.At(t[1], t[2])
	}
}

// newShadows are dark patches of the residue, fixed to the sensor, where the
// flat has no shadow.
func (r *residue) newShadows(known []Shadow) []Shadow {
	m := stats.Map{Width: r.Width, Height: r.Height, Step: r.Step, Values: make([]float64, len(r.Values))}
	for i, v := range r.Values {
		m.Values[i] = 1
		if !math.IsNaN(v) { // cells under stars are taken as even
			m.Values[i] = 1 + v
		}
	}
	m = smooth(m)
	return slices.DeleteFunc(darkPatches(m), func(s Shadow) bool {
		for _, k := range known {
			if math.Hypot(s.X-k.X, s.Y-k.Y) < (s.Diameter+k.Diameter)/2 {
				return true
			}
		}
		w, ok := newWindow(m, s)
		if !ok {
			return true
		}
		_, rest, ok := w.look(r.Map, w.i, w.j)
		return !ok || r.fixedToSensor(&w, w.smoothed(rest)) < fixedSigma
	})
}

// darkPatches are the shadows of a map that is as noisy as a stack of subs.
func darkPatches(m stats.Map) []Shadow {
	depth := shadowDepth(m)
	return findShadows(m, depth, max(dustSigma*stats.MADSigma(depth), minDepth))
}

// smooth averages each cell with its eight neighbours: shadows are wider, and
// the noise of cells is not.
func smooth(m stats.Map) stats.Map {
	out := stats.Map{Width: m.Width, Height: m.Height, Step: m.Step, Values: make([]float64, len(m.Values))}
	for j := range m.Height {
		for i := range m.Width {
			sum, n := 0.0, 0.0
			for y := max(0, j-1); y <= min(m.Height-1, j+1); y++ {
				for x := max(0, i-1); x <= min(m.Width-1, i+1); x++ {
					sum += m.At(x, y)
					n++
				}
			}
			out.Values[j*m.Width+i] = sum / n
		}
	}
	return out
}
