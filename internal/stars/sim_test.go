package stars

import (
	"math"
	"math/rand/v2"
)

// sim draws star fields with known truth, in electrons.
type sim struct {
	w, h int
	e    []float64 // expected electrons
	rng  *rand.Rand
	read float64
}

func newSim(seed uint64, w, h int, sky float64) *sim {
	s := &sim{w: w, h: h, e: make([]float64, w*h), rng: rand.New(rand.NewPCG(seed, 11)), read: 3}
	for i := range s.e {
		s.e[i] = sky
	}
	return s
}

// psf is a profile with truth: full width at half maximum of the round one, or
// of the narrow axis; beta 0 stands for the Gaussian.
type psf struct {
	fwhm, beta         float64
	ellipticity, angle float64 // 1-b/a of an elliptical profile
	trail, trailAngle  float64 // px, degrees
}

func (q psf) at(dx, dy float64) float64 {
	b := q.fwhm / 2 * math.Sqrt(1-q.ellipticity)
	a := q.fwhm / 2 / math.Sqrt(1-q.ellipticity)
	s, c := math.Sincos(q.angle * math.Pi / 180)
	u, v := (dx*c+dy*s)/a, (-dx*s+dy*c)/b
	r2 := u*u + v*v
	if q.beta == 0 {
		return math.Exp(-math.Ln2*r2) * math.Ln2 / (math.Pi * a * b)
	}
	k := math.Exp2(1/q.beta) - 1
	return math.Pow(1+k*r2, -q.beta) * k * (q.beta - 1) / (math.Pi * a * b)
}

// star adds a star of so many electrons: its profile is summed over 7 x 7
// points a pixel in its core, over fewer farther out where it is smooth, and
// over a trail in steps of a quarter of a pixel.
func (s *sim) star(x, y, flux float64, q psf) {
	reach := int(math.Ceil(4*q.fwhm + q.trail/2 + 3))
	steps := 1
	if q.trail > 0 {
		steps = max(4, int(q.trail*3))
	}
	ts, tc := math.Sincos(q.trailAngle * math.Pi / 180)
	x0, y0 := int(math.Round(x)), int(math.Round(y))
	for j := max(0, y0-reach); j <= min(s.h-1, y0+reach); j++ {
		for i := max(0, x0-reach); i <= min(s.w-1, x0+reach); i++ {
			nodes := gauss[3]
			if math.Hypot(float64(i)-x, float64(j)-y)-q.trail/2 < 1.5*q.fwhm {
				nodes = gauss[5]
			}
			var sum float64
			for k := range steps {
				t := q.trail * ((float64(k)+0.5)/float64(steps) - 0.5)
				for _, b := range nodes {
					for _, a := range nodes {
						sum += a.w * b.w * q.at(float64(i)+a.t-x-t*tc, float64(j)+b.t-y-t*ts)
					}
				}
			}
			s.e[j*s.w+i] += flux * sum / float64(steps)
		}
	}
}

// spot adds a Gaussian star of so many electrons, exactly integrated over the
// pixels: quick enough for thousands.
func (s *sim) spot(x, y, flux, fwhm float64) {
	sigma := fwhm / sigmaToFWHM
	reach := int(math.Ceil(5 * sigma))
	x0, y0 := int(math.Round(x))-reach, int(math.Round(y))-reach
	share := func(d float64) float64 {
		return (math.Erf((d+0.5)/sigma/math.Sqrt2) - math.Erf((d-0.5)/sigma/math.Sqrt2)) / 2
	}
	across := make([]float64, 2*reach+1)
	for i := range across {
		across[i] = share(float64(x0+i) - x)
	}
	for j := max(0, y0); j <= min(s.h-1, y0+2*reach); j++ {
		row := flux * share(float64(j)-y)
		for i := max(0, x0); i <= min(s.w-1, x0+2*reach); i++ {
			s.e[j*s.w+i] += row * across[i-x0]
		}
	}
}

// trail adds a Gaussian star drawn along a line, in steps of a quarter of a pixel.
func (s *sim) trail(x, y, flux float64, q psf) {
	n := 1 + int(4*q.trail)
	sin, cos := math.Sincos(q.trailAngle * math.Pi / 180)
	for k := range n {
		t := q.trail * ((float64(k)+0.5)/float64(n) - 0.5)
		s.spot(x+t*cos, y+t*sin, flux/float64(n), q.fwhm)
	}
}

// signal is the flux that gives a star the wanted signal to noise under the
// matched filter: F = snr sigma sqrt(N_eff), its own photons included.
func (s *sim) signal(snr, sky float64, q psf) float64 {
	n := 2.266*(q.fwhm*q.fwhm+0.4) + 1.5*q.trail*q.fwhm
	v := n * (sky + s.read*s.read)
	return (snr*snr + math.Sqrt(snr*snr*snr*snr+4*snr*snr*v)) / 2
}

// frame draws the noise.
func (s *sim) frame() []float32 {
	out := make([]float32, len(s.e))
	for i, e := range s.e {
		out[i] = float32(e + math.Sqrt(e+s.read*s.read)*s.rng.NormFloat64())
	}
	return out
}

// scatter places n stars at least apart px from each other and from the edge.
func (s *sim) scatter(n int, apart float64) [][2]float64 {
	var out [][2]float64
	for try := 0; len(out) < n && try < 200*n; try++ {
		x, y := apart+s.rng.Float64()*(float64(s.w)-2*apart), apart+s.rng.Float64()*(float64(s.h)-2*apart)
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

func quiet() Options {
	o := DefaultOptions
	o.Gain = 1
	return o
}
