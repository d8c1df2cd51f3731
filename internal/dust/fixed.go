package dust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"fitsqa/internal/stats"
)

// fixedSigma is from where on a pattern counts as fixed to the sensor.
const fixedSigma = 4

// skyDoubt is how far off the share of a pattern that moves with the stars may
// be, of itself: nebulae have the shape of a shadow only roughly.
const skyDoubt = 0.5

// watched is a window in the subs, cell by cell, each without its gradient.
type watched struct {
	*window
	subs    []*skyCells
	cells   [][]float64 // a sub
	typical [][]float64 // the median of all subs but this one
}

// watch cuts a window out of the subs whose place on the sky is known.
func (r *residue) watch(w *window) watched {
	const most = 16
	v := watched{window: w}
	for i := range r.subs {
		if s := &r.subs[i]; s.ToSky != nil && s.FromSky != nil && len(v.subs) < most {
			v.subs = append(v.subs, s)
			v.cells = append(v.cells, w.cut(s.Map))
		}
	}
	for n := range v.subs {
		v.typical = append(v.typical, w.medianWithout(v.cells, n))
	}
	return v
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

// moving is how much of a shape moves with the stars, as a multiple of it, and
// the error; infinite where the subs were dithered too little to tell.
//
// What is fixed to the sensor is the same in all subs. What moves with the stars
// differs in sub s from what is typical of the others as the shape differs from S,
// its mean over where the others had the sky that sub s has here: by S less the
// shape. The scatter from sub to sub gives the error, which faint stars enter.
func (v *watched) moving(shape []float64) (share, err float64) {
	if len(v.subs) < fewestSubs {
		return 0, math.Inf(1)
	}
	still := slices.Clone(shape)
	v.flatten(still)
	var projected, apart, noise []float64
	for n, s := range v.subs {
		moved := v.onSky(shape, s, v.subs)
		var p, d float64
		for k, y := range v.cells[n] {
			if off := moved[k] - still[k]; !math.IsNaN(y + off + v.typical[n][k]) {
				p += (y - v.typical[n][k]) * off
				d += off * off
				noise = append(noise, y-v.typical[n][k])
			}
		}
		projected, apart = append(projected, p), append(apart, d)
	}
	return slope(projected, apart, stats.MADSigma(noise))
}

// stays tells whether what the window shows stays with the sensor or moves with
// the stars, whatever its shape, in sigma: positive for the sensor. A sub follows
// what is typical, A, or what is typical moved with the stars, S. Its cells are
// projected on A - S, from the middle between the two: +1/2 for the sensor, -1/2
// for the sky. The sub itself is not in its A, or noise would be found fixed.
func (v *watched) stays() float64 {
	if len(v.subs) < fewestSubs {
		return 0
	}
	var projected, apart, noise []float64
	for n, s := range v.subs {
		a := v.typical[n]
		moved := v.onSky(a, s, v.subs)
		var p, d float64
		for k, y := range v.cells[n] {
			if off := a[k] - moved[k]; !math.IsNaN(y + off) {
				p += (y - (a[k]+moved[k])/2) * off
				d += off * off
				noise = append(noise, y-a[k])
			}
		}
		projected, apart = append(projected, p), append(apart, d)
	}
	half, err := slope(projected, apart, stats.MADSigma(noise))
	if z := half / err; !math.IsNaN(z) {
		return z
	}
	return 0
}

// slope of projections over the squares of what they are projected on. The error
// is made wider for few subs, whose scatter is not well known itself, so that
// fixedSigma of it mean what they do of a normal distribution (Student's t).
func slope(projected, apart []float64, sigma float64) (slope, err float64) {
	n := float64(len(apart))
	sum := n * stats.Mean(apart)
	slope = n * stats.Mean(projected) / sum
	var scatter float64
	for i := range projected {
		off := projected[i] - slope*apart[i]
		scatter += off * off
	}
	// No better than the noise of the cells allows: subs that hardly moved
	// scatter little, and tell nothing.
	err = math.Sqrt(max(scatter*n/(n-1), sigma*sigma*sum)) / sum
	if math.IsNaN(slope) || math.IsNaN(err) {
		return 0, math.Inf(1)
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(distuv.UnitNormal.CDF(fixedSigma))
	return slope, err * t / fixedSigma
}

// medianWithout is the median, cell by cell, over all subs but one.
func (w *window) medianWithout(cells [][]float64, without int) []float64 {
	a := make([]float64, len(w.cells))
	values := make([]float64, 0, len(cells))
	for k := range a {
		values = values[:0]
		for n := range cells {
			if v := cells[n][k]; n != without && !math.IsNaN(v) {
				values = append(values, v)
			}
		}
		a[k] = math.NaN()
		if 2*len(values) >= len(cells) {
			a[k] = stats.MedianInPlace(values)
		}
	}
	w.flatten(a)
	return a
}

// onSky is the mean of a pattern over where the other subs had what sub s has
// in each cell, and nothing where that is outside the window.
func (w *window) onSky(pattern []float64, s *skyCells, subs []*skyCells) []float64 {
	shape := w.picture(pattern)
	n := float64(shape.Width-1) / 2
	moved := make([]float64, len(w.cells))
	for k, c := range w.cells {
		x, y := s.Centre(w.i+c[0], w.j+c[1])
		x, y = s.ToSky(x, y)
		for _, o := range subs {
			if o == s {
				continue
			}
			u, v := o.FromSky(x, y)
			i, j := s.Cell(u, v)
			moved[k] += cubic(shape, n+(i-float64(w.i)), n+(j-float64(w.j))) / float64(len(subs)-1)
		}
	}
	w.flatten(moved)
	return moved
}

// cubic samples a map by cubic convolution (Keys 1981, a = -1/2), which hardly
// blurs: a blurred pattern would differ from the sensor's without having moved.
// Outside the map is nothing.
func cubic(m stats.Map, x, y float64) float64 {
	i, j := int(math.Floor(x)), int(math.Floor(y))
	p, q := keys(x-float64(i)), keys(y-float64(j))
	var sum float64
	for b := range 4 {
		for a := range 4 {
			if u, v := i+a-1, j+b-1; m.Inside(u, v) {
				sum += p[a] * q[b] * m.At(u, v)
			}
		}
	}
	return sum
}

// keys are the weights of the four neighbours of a place between the middle two.
func keys(t float64) [4]float64 {
	return [4]float64{
		t * (-0.5 + t*(1-0.5*t)),
		1 + t*t*(-2.5+1.5*t),
		t * (0.5 + t*(2-1.5*t)),
		t * t * (-0.5 + 0.5*t),
	}
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

// newShadows are dark patches of the residue, fixed to the sensor, where the
// flat has no shadow.
func (r *residue) newShadows(known []Shadow) []Shadow {
	m := stats.Map{Width: r.Width, Height: r.Height, Step: r.Step, Values: make([]float64, len(r.Values))}
	for i, v := range r.Values {
		m.Values[i] = 1 + v
	}
	m = smooth(m)
	dark, _ := Shadows(m)
	sky := m.FitPlane()
	return slices.DeleteFunc(dark, func(s Shadow) bool {
		for _, k := range known {
			if math.Hypot(s.X-k.X, s.Y-k.Y) < (s.Diameter+k.Diameter)/2 {
				return true
			}
		}
		w, ok := newWindow(m, s, known)
		return !ok || !w.belowSky(m, sky) || !r.standsOut(&w, known) || !r.onSensor(&w)
	})
}

// newSigma is by how much a new shadow stands out: it is the darkest of hundreds of
// places.
const newSigma = 8

// standsOut tells whether noise and sky feign no such shadow elsewhere.
func (r *residue) standsOut(w *window, known []Shadow) bool {
	sigma, _, _, ok := r.elsewhere(w, known)
	return ok && newSigma*sigma < 1
}

// belowSky tells whether a shadow is darker than the frame at large is there, and
// not only than something bright around it.
func (w *window) belowSky(m stats.Map, sky stats.Plane) bool {
	var off, depth float64
	for k, c := range w.cells {
		if r := math.Hypot(float64(c[0]), float64(c[1])); r <= w.radius && !w.blind[k] {
			u, v := m.Relative(w.i+c[0], w.j+c[1])
			off += m.At(w.i+c[0], w.j+c[1]) - sky.At(u, v)
			depth += w.depth[k]
		}
	}
	return off < -depth/3
}

// onSensor tells whether a new shadow is fixed to the sensor: more of it than
// moves with the stars, and so of all that is seen there.
func (r *residue) onSensor(w *window) bool {
	v := r.watch(w)
	share, err := v.moving(w.rings())
	// The shadow is dark: what moves of it would be -1 times its rings.
	left := 1 + share
	return left > 0.5 && left > fixedSigma*math.Hypot(err, skyDoubt*share) && v.stays() > -fixedSigma
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

// smooth averages each cell with its eight neighbours: shadows are wider, and
// the noise of cells is not. Where fewer than six are known, nothing is.
func smooth(m stats.Map) stats.Map {
	out := stats.Map{Width: m.Width, Height: m.Height, Step: m.Step, Values: make([]float64, len(m.Values))}
	for j := range m.Height {
		for i := range m.Width {
			sum, n := 0.0, 0.0
			m.Near(i, j, 1, func(_, _ int, v float64) {
				sum += v
				n++
			})
			out.Values[j*m.Width+i] = sum / n
			if edge := i == 0 || j == 0 || i == m.Width-1 || j == m.Height-1; n < 6 && !edge {
				out.Values[j*m.Width+i] = math.NaN()
			}
		}
	}
	return out
}
