package stars

import (
	"math"
	"testing"

	"fitsqa/internal/stats"
)

// TestSearchAgainstPlainConvolution holds the search by windows to the filter's
// definition summed up in the plainest way at every pixel: what that shows at 5
// sigma is found, but for the few at the threshold and the few whose neighbours
// are closer than a FWHM; and nothing else is found. Round and long images, hot
// pixels and columns left out, mosaics, stars that the edge of a frame of odd
// sides cuts.
func TestSearchAgainstPlainConvolution(t *testing.T) {
	const w, h = 501, 387
	type field struct {
		psf
		bayer, holes bool
	}
	var fields []field
	for _, fwhm := range []float64{1.3, 2.2, 3.1, 3.6, 4.5, 6, 7.5, 11} {
		fields = append(fields, field{psf: psf{fwhm: fwhm, beta: 3.5}})
	}
	fields = append(fields, field{psf: psf{fwhm: 3.3, ellipticity: 0.4, angle: 35}}, field{psf: psf{fwhm: 5, ellipticity: 0.3, angle: -80}},
		field{psf: psf{fwhm: 2.5}, holes: true}, field{psf: psf{fwhm: 3}, bayer: true})
	for n, q := range fields {
		s := newSim(uint64(n+1), w, h, 300)
		for range int(min(500, 15000/(q.fwhm*q.fwhm))) {
			s.star(s.rng.Float64()*w, s.rng.Float64()*h, s.signal(4+4*s.rng.ExpFloat64(), 300, q.psf), q.psf)
		}
		p := &plane{w: w, h: h, r: s.frame(), green: -1, saturation: math.Inf(1)}
		if q.holes {
			for i := range p.r {
				if i%w == 100 || s.rng.IntN(1000) == 0 {
					p.r[i] = float32(math.NaN())
				}
			}
		}
		p.mask(nil)
		white := 1.0 // noise of sums over the noise of pixels
		if q.bayer {
			p.green, white = 0, math.Sqrt2
			fillFromGreen(p.r, w, h, p.green)
		}
		p.mesh.Fit(p.r, w, h, stats.MeshCell(w, h), 1, nil)
		p.subtract()
		// The pixel adds 1/12 px² to the variance along both axes.
		long, short := q.fwhm/sigmaToFWHM/math.Sqrt(1-q.ellipticity), q.fwhm/sigmaToFWHM*math.Sqrt(1-q.ellipticity)
		sin, cos := math.Sincos(q.angle * math.Pi / 180)
		v := seeing{xx: long*long*cos*cos + short*short*sin*sin + 1./12, yy: long*long*sin*sin + short*short*cos*cos + 1./12,
			xy: (long*long - short*short) * sin * cos}
		v.fwhm = sigmaToFWHM * math.Pow(v.xx*v.yy-v.xy*v.xy, 0.25)

		found := map[[2]int]bool{}
		for _, c := range p.search(newKernel(v), 5) {
			found[[2]int{c.x, c.y}] = true
		}
		response := convolved(p, v)
		all, missed, plain := 0, 0, 0
		for i, r := range response {
			x, y := i%w, i/w
			significance := r / p.mesh.NoiseAt(float64(x), float64(y)) / white
			// Equal to single precision counts as a maximum, but as none that
			// must be found.
			top, beyond := true, true
			for j := max(0, y-1); j <= min(h-1, y+1); j++ {
				for k := max(0, x-1); k <= min(w-1, x+1); k++ {
					if o := response[j*w+k]; k != x || j != y {
						top, beyond = top && o <= r*(1+1e-5), beyond && o < r*(1-1e-5)
					}
				}
			}
			if beyond && significance >= 5 {
				all++
				if !found[[2]int{x, y}] {
					missed++
					if significance > 6.5 {
						plain++
					}
				}
			}
			// The search takes the noise in the middle of blocks of 32 px.
			if top && significance >= 4.8 {
				delete(found, [2]int{x, y})
			}
		}
		if all < 40 || missed > all*3/100 || plain > all/50 {
			t.Errorf("%+v: of %d maxima %d are missed, %d of them above 6.5 sigma", q, all, missed, plain)
		}
		if len(found) > 0 {
			t.Errorf("%+v: %d places are no maxima of the filter", q, len(found))
		}
	}
}

// convolved is the matched filter's answer at every pixel, in double precision:
// the light weighed by a Gaussian, over the root of the sum of the weights'
// squares inside the frame; 0 where half of these are outside.
func convolved(p *plane, s seeing) []float64 {
	det := s.xx*s.yy - s.xy*s.xy
	reach := max(2, int(math.Ceil(2.2*math.Sqrt(max(s.xx, s.yy)))))
	side := 2*reach + 1
	g := make([]float64, side*side)
	var whole float64
	for k := range g {
		x, y := float64(k%side-reach), float64(k/side-reach)
		g[k] = math.Exp(-(s.yy*x*x - 2*s.xy*x*y + s.xx*y*y) / (2 * det))
		whole += g[k] * g[k]
	}
	out := make([]float64, p.w*p.h)
	for y := range p.h {
		for x := range p.w {
			var light, squares float64
			for j := max(0, reach-y); j < min(side, p.h-y+reach); j++ {
				for i := max(0, reach-x); i < min(side, p.w-x+reach); i++ {
					a := g[j*side+i]
					light += a * float64(p.r[(y+j-reach)*p.w+x+i-reach])
					squares += a * a
				}
			}
			if squares >= whole/2 {
				out[y*p.w+x] = light / math.Sqrt(squares)
			}
		}
	}
	return out
}
