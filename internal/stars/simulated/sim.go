// Package simulated draws star fields with known truth, for tests alone.
//
// Model: expected electrons a pixel (a flat sky, and Moffat or Gaussian images integrated
// over square pixels), then Poisson counts and Gaussian read noise. Nothing of the
// measuring packages is used, so that a fault there cannot hide in the truth.
package simulated

import (
	"math"
	"math/rand/v2"
	"sync"

	"fitsqa/internal/stars"
)

// Sim draws star fields with known truth, in electrons.
type Sim struct {
	W, H int
	E    []float64 // expected electrons
	Rng  *rand.Rand
	read float64
}

// NewSim is a field of w x h px without stars on a sky of so many electrons a pixel.
func NewSim(seed uint64, w, h int, sky float64) *Sim {
	s := &Sim{W: w, H: h, E: make([]float64, w*h), Rng: rand.New(rand.NewPCG(seed, 11)), read: 3}
	for i := range s.E {
		s.E[i] = sky
	}
	return s
}

// PSF is a profile with truth: full width at half maximum of the round one, or
// of the narrow axis; beta 0 stands for the Gaussian.
type PSF struct {
	Fwhm, Beta         float64
	Ellipticity, Angle float64 // 1-b/a of an elliptical profile
	Trail, TrailAngle  float64 // px, degrees
}

// At is the height of a profile of unit volume.
func (q PSF) At(dx, dy float64) float64 { return q.profile()(dx, dy) }

// profile is At with what all places share worked out once.
func (q PSF) profile() func(dx, dy float64) float64 {
	b := q.Fwhm / 2 * math.Sqrt(1-q.Ellipticity)
	a := q.Fwhm / 2 / math.Sqrt(1-q.Ellipticity)
	s, c := math.Sincos(q.Angle * math.Pi / 180)
	if q.Beta == 0 {
		norm := math.Ln2 / (math.Pi * a * b)
		return func(dx, dy float64) float64 {
			u, v := (dx*c+dy*s)/a, (-dx*s+dy*c)/b
			return norm * math.Exp(-math.Ln2*(u*u+v*v))
		}
	}
	k := math.Exp2(1/q.Beta) - 1
	norm := k * (q.Beta - 1) / (math.Pi * a * b)
	wing := wingOf(q.Beta)
	return func(dx, dy float64) float64 {
		u, v := (dx*c+dy*s)/a, (-dx*s+dy*c)/b
		return norm * wing.at(u*u+v*v)
	}
}

// wing is how a Moffat profile falls off: (1+kz)^-beta over z, the squared distance in
// half widths. It is drawn from a table, straight between its places, which is true to
// 3e-6 of it for all exponents in use.
type wing struct {
	k, beta float64
	table   []float64 // wingStep apart
}

const (
	wingStep = 1. / 256
	wingEnd  = 300
)

var wings sync.Map // by exponent

func wingOf(beta float64) *wing {
	if w, ok := wings.Load(beta); ok {
		return w.(*wing)
	}
	w := &wing{k: math.Exp2(1/beta) - 1, beta: beta}
	for i := range int(wingEnd/wingStep) + 1 {
		w.table = append(w.table, w.exact(float64(i)*wingStep))
	}
	wings.Store(beta, w)
	return w
}

func (w *wing) exact(z float64) float64 { return math.Exp(-w.beta * math.Log(1+w.k*z)) }

func (w *wing) at(z float64) float64 {
	t := z / wingStep
	if !(t < float64(len(w.table)-1)) {
		return w.exact(z)
	}
	i := int(t)
	return w.table[i] + (t-float64(i))*(w.table[i+1]-w.table[i])
}

// quadrature is a point of a pixel, -1/2 to 1/2, and its weight.
type quadrature struct{ t, w float64 }

// Gauss-Legendre nodes (Abramowitz and Stegun 1964, table 25.4).
var (
	nodes1 = []quadrature{{0, 1}}
	nodes3 = []quadrature{{-0.387298334620742, 0.277777777777778}, {0, 0.444444444444444}, {0.387298334620742, 0.277777777777778}}
	nodes5 = []quadrature{{-0.453089922969332, 0.118463442528095}, {-0.269234655052841, 0.239314335249683}, {0, 0.284444444444444},
		{0.269234655052841, 0.239314335249683}, {0.453089922969332, 0.118463442528095}}
)

// Star adds a star of so many electrons: its profile is summed over 5 x 5
// points a pixel in its core, over fewer farther out where it is smooth, and
// over a trail in steps of a third of its width, which are smooth to 1e-9 of a Gaussian.
// One point that stands for a pixel errs by the profile's curvature there: under 1e-4
// of the star's peak, 2e-4 for an exponent of 1.5.
func (s *Sim) Star(x, y, flux float64, q PSF) {
	at := q.profile()
	reach := int(math.Ceil(4*q.Fwhm + q.Trail/2 + 3))
	steps := 1
	if q.Trail > 0 {
		steps = max(4, int(math.Ceil(3*q.Trail/q.Fwhm)))
	}
	ts, tc := math.Sincos(q.TrailAngle * math.Pi / 180)
	x0, y0 := int(math.Round(x)), int(math.Round(y))
	for j := max(0, y0-reach); j <= min(s.H-1, y0+reach); j++ {
		for i := max(0, x0-reach); i <= min(s.W-1, x0+reach); i++ {
			away := math.Hypot(float64(i)-x, float64(j)-y) - q.Trail/2
			nodes := nodes3
			switch {
			case away < 1.5*q.Fwhm:
				nodes = nodes5
			case away > 2.5*q.Fwhm+1:
				nodes = nodes1
			}
			var sum float64
			for k := range steps {
				t := q.Trail * ((float64(k)+0.5)/float64(steps) - 0.5)
				for _, b := range nodes {
					for _, a := range nodes {
						sum += a.w * b.w * at(float64(i)+a.t-x-t*tc, float64(j)+b.t-y-t*ts)
					}
				}
			}
			s.E[j*s.W+i] += flux * sum / float64(steps)
		}
	}
}

// Spot adds a Gaussian star of so many electrons, exactly integrated over the
// pixels: quick enough for thousands.
func (s *Sim) Spot(x, y, flux, fwhm float64) {
	sigma := fwhm / stars.SigmaToFWHM
	reach := int(math.Ceil(5 * sigma))
	x0, y0 := int(math.Round(x))-reach, int(math.Round(y))-reach
	share := func(d float64) float64 {
		return (math.Erf((d+0.5)/sigma/math.Sqrt2) - math.Erf((d-0.5)/sigma/math.Sqrt2)) / 2
	}
	across := make([]float64, 2*reach+1)
	for i := range across {
		across[i] = share(float64(x0+i) - x)
	}
	for j := max(0, y0); j <= min(s.H-1, y0+2*reach); j++ {
		row := flux * share(float64(j)-y)
		for i := max(0, x0); i <= min(s.W-1, x0+2*reach); i++ {
			s.E[j*s.W+i] += row * across[i-x0]
		}
	}
}

// Trail adds a Gaussian star drawn along a line, in steps of a quarter of a pixel.
func (s *Sim) Trail(x, y, flux float64, q PSF) {
	n := 1 + int(4*q.Trail)
	sin, cos := math.Sincos(q.TrailAngle * math.Pi / 180)
	for k := range n {
		t := q.Trail * ((float64(k)+0.5)/float64(n) - 0.5)
		s.Spot(x+t*cos, y+t*sin, flux/float64(n), q.Fwhm)
	}
}

// Signal is the flux that gives a star the wanted signal to noise under the
// matched filter: F = snr sigma sqrt(N_eff), its own photons included.
func (s *Sim) Signal(snr, sky float64, q PSF) float64 {
	n := 2.266*(q.Fwhm*q.Fwhm+0.4) + 1.5*q.Trail*q.Fwhm
	v := n * (sky + s.read*s.read)
	return (snr*snr + math.Sqrt(snr*snr*snr*snr+4*snr*snr*v)) / 2
}

// Frame draws the noise.
func (s *Sim) Frame() []float32 {
	out := make([]float32, len(s.E))
	for i, e := range s.E {
		out[i] = float32(e + math.Sqrt(e+s.read*s.read)*s.Rng.NormFloat64())
	}
	return out
}

// Scatter places n stars at least apart px from each other and from the edge.
func (s *Sim) Scatter(n int, apart float64) [][2]float64 {
	var out [][2]float64
	for try := 0; len(out) < n && try < 200*n; try++ {
		x, y := apart+s.Rng.Float64()*(float64(s.W)-2*apart), apart+s.Rng.Float64()*(float64(s.H)-2*apart)
		ok := true
		for _, o := range out {
			if math.Hypot(o[0]-x, o[1]-y) < apart {
				ok = false
				break
			}
		}
		if ok {
			out = append(out, [2]float64{x, y})
		}
	}
	return out
}

// Quiet are options for a drawn field: one electron a unit, all else as usual.
func Quiet() stars.Options {
	o := stars.DefaultOptions
	o.Gain = 1
	return o
}
