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
