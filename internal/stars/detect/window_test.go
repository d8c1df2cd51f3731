package detect

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stars/simulated"
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
		simulated.PSF
		bayer, holes bool
	}
	var fields []field
	for _, fwhm := range []float64{1.3, 2.2, 3.1, 3.6, 4.5, 6, 7.5, 11} {
		fields = append(fields, field{PSF: simulated.PSF{Fwhm: fwhm, Beta: 3.5}})
	}
	fields = append(fields, field{PSF: simulated.PSF{Fwhm: 3.3, Ellipticity: 0.4, Angle: 35}}, field{PSF: simulated.PSF{Fwhm: 5, Ellipticity: 0.3, Angle: -80}},
		field{PSF: simulated.PSF{Fwhm: 2.5}, holes: true}, field{PSF: simulated.PSF{Fwhm: 3}, bayer: true})
	for n, q := range fields {
		if testing.Short() && n%4 != 3 { // 3.6, 11 px and the mosaic
			continue
		}
		s := simulated.NewSim(uint64(n+1), w, h, 300)
		for range int(min(500, 15000/(q.Fwhm*q.Fwhm))) {
			s.Star(s.Rng.Float64()*w, s.Rng.Float64()*h, s.Signal(4+4*s.Rng.ExpFloat64(), 300, q.PSF), q.PSF)
		}
		p := &plane.Plane{W: w, H: h, R: s.Frame(), Green: -1, Saturation: math.Inf(1)}
		if q.holes {
			for i := range p.R {
				if i%w == 100 || s.Rng.IntN(1000) == 0 {
					p.R[i] = float32(math.NaN())
				}
			}
		}
		p.Mask(nil)
		white := 1.0 // noise of sums over the noise of pixels
		if q.bayer {
			p.Green, white = 0, math.Sqrt2
			plane.FillFromGreen(p.R, w, h, p.Green)
		}
		p.TakeBackground(0)
		// The pixel adds 1/12 px² to the variance along both axes.
		long, short := q.Fwhm/stars.SigmaToFWHM/math.Sqrt(1-q.Ellipticity), q.Fwhm/stars.SigmaToFWHM*math.Sqrt(1-q.Ellipticity)
		sin, cos := math.Sincos(q.Angle * math.Pi / 180)
		v := Seeing{Xx: long*long*cos*cos + short*short*sin*sin + 1./12, Yy: long*long*sin*sin + short*short*cos*cos + 1./12,
			Xy: (long*long - short*short) * sin * cos}
		v.Fwhm = stars.SigmaToFWHM * math.Pow(v.Xx*v.Yy-v.Xy*v.Xy, 0.25)

		found := map[[2]int]bool{}
		for _, c := range search(p, newKernel(v), 5) {
			found[[2]int{c.x, c.y}] = true
		}
		response := convolved(p, v)
		all, missed, plain := 0, 0, 0
		for i, r := range response {
			x, y := i%w, i/w
			significance := r / p.Mesh.NoiseAt(float64(x), float64(y)) / white
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
func convolved(p *plane.Plane, s Seeing) []float64 {
	det := s.Xx*s.Yy - s.Xy*s.Xy
	reach := max(2, int(math.Ceil(2.2*math.Sqrt(max(s.Xx, s.Yy)))))
	side := 2*reach + 1
	g := make([]float64, side*side)
	var whole float64
	for k := range g {
		x, y := float64(k%side-reach), float64(k/side-reach)
		g[k] = math.Exp(-(s.Yy*x*x - 2*s.Xy*x*y + s.Xx*y*y) / (2 * det))
		whole += g[k] * g[k]
	}
	out := make([]float64, p.W*p.H)
	for y := range p.H {
		for x := range p.W {
			var light, squares float64
			for j := max(0, reach-y); j < min(side, p.H-y+reach); j++ {
				for i := max(0, reach-x); i < min(side, p.W-x+reach); i++ {
					a := g[j*side+i]
					light += a * float64(p.R[(y+j-reach)*p.W+x+i-reach])
					squares += a * a
				}
			}
			if squares >= whole/2 {
				out[y*p.W+x] = light / math.Sqrt(squares)
			}
		}
	}
	return out
}

// Sums over 2x2 and 4x4 px are those of the pixels, what odd edges hold included.
func TestBins(t *testing.T) {
	for n, size := range [][2]int{{16, 16}, {17, 16}, {33, 19}, {1, 5}, {40, 1}} {
		w, h := size[0], size[1]
		s := simulated.NewSim(uint64(n), w, h, 300)
		p := &plane.Plane{W: w, H: h, R: s.Frame()}
		pic := newBins(p)
		for range 3 {
			for y := range pic.h {
				row := pic.row(y)
				for x, got := range row {
					var want float64
					for j := y * pic.size; j < min((y+1)*pic.size, h); j++ {
						for i := x * pic.size; i < min((x+1)*pic.size, w); i++ {
							want += float64(p.R[j*w+i])
						}
					}
					// Sums of 16 float32 of some hundred.
					if !(math.Abs(float64(got)-want) < 5e-3) || len(row) != (w+pic.size-1)/pic.size || pic.h != (h+pic.size-1)/pic.size {
						t.Fatalf("%d x %d: bin %d,%d of %d px is %v, want %v", w, h, x, y, pic.size, got, want)
					}
				}
			}
			pic = pic.halved()
		}
	}
}
