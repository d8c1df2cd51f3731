package frames

import (
	"math"
	"math/rand/v2"
	"testing"
)

// crowd is a sky of white noise and stars of a width, of which the faint are many and
// far below the noise: as many again for each halving of light, as in the Milky Way.
func crowd(fwhm, aPixel float64, seed uint64) []float64 {
	const n, noise = sceneSide, 10.0
	rng := rand.New(rand.NewPCG(seed, 77))
	px := make([]float64, n*n)
	s := fwhm / 2.3548
	within := func(d float64) float64 { // a pixel's share of the light
		return 0.5 * (math.Erf((d+0.5)/s/math.Sqrt2) - math.Erf((d-0.5)/s/math.Sqrt2))
	}
	reach := int(3*s) + 2
	for range int(aPixel * n * n) {
		light := 0.3 * noise * 2 * math.Pi * s * s / math.Max(rng.Float64(), 1e-4)
		cx, cy := rng.Float64()*n, rng.Float64()*n
		var across []float64
		for x := max(0, int(cx)-reach); x < min(n, int(cx)+reach+1); x++ {
			across = append(across, within(float64(x)-cx))
		}
		for y := max(0, int(cy)-reach); y < min(n, int(cy)+reach+1); y++ {
			down := light * within(float64(y)-cy)
			for i, w := range across {
				px[y*n+max(0, int(cx)-reach)+i] += w * down
			}
		}
	}
	for i := range px {
		px[i] = math.Round(1000 + px[i] + noise*rng.NormFloat64())
	}
	return px
}

var kernels = map[string]func(d float64) float64{
	"linear": func(d float64) float64 { return math.Max(0, 1-d) },
	"cubic": func(d float64) float64 { // Keys 1981, IEEE Trans. ASSP 29, 1153
		switch {
		case d < 1:
			return 1.5*d*d*d - 2.5*d*d + 1
		case d < 2:
			return -0.5*d*d*d + 2.5*d*d - 4*d + 2
		}
		return 0
	},
	"windowed sinc": func(d float64) float64 { // Duchon 1979, J. Appl. Meteorol. 18, 1016
		switch {
		case d < 1e-9:
			return 1
		case d < 3:
			return 3 * math.Sin(math.Pi*d) * math.Sin(math.Pi*d/3) / (math.Pi * math.Pi * d * d)
		}
		return 0
	},
}

// moved is a picture turned about its middle by so many radians and shifted.
func moved(px []float64, kernel func(float64) float64, turn, dx, dy float64) []float64 {
	const n = sceneSide
	out := make([]float64, len(px))
	sin, cos := math.Sincos(turn)
	for i := range out {
		x, y := float64(i%n)-n/2, float64(i/n)-n/2
		u, v := cos*x-sin*y+dx+n/2, sin*x+cos*y+dy+n/2
		sum, weight := 0.0, 0.0
		var across [6]float64
		for k := range across {
			across[k] = kernel(math.Abs(u - float64(int(u)-2+k)))
		}
		for b := int(v) - 2; b <= int(v)+3; b++ {
			down := kernel(math.Abs(v - float64(b)))
			for k, w := range across {
				row, col := min(max(b, 0), n-1), min(max(int(u)-2+k, 0), n-1)
				sum += down * w * px[row*n+col]
				weight += down * w
			}
		}
		out[i] = sum / weight
	}
	return out
}

// Raw frames are raw however narrow and many their stars; shifted and turned ones are
// not, by whatever they were interpolated.
func TestSharedNoise(t *testing.T) {
	t.Parallel()
	shows := func(px []float64) (*Frame, bool) {
		f := scanBytes(t, "a.fits", floats(px, sceneSide, "IMAGETYP= 'Light'", "EXPTIME = 60"))
		return f, f.Resampled
	}
	for _, fwhm := range []float64{1.3, 4} {
		for _, aPixel := range []float64{0.005, 0.03} {
			if f, is := shows(crowd(fwhm, aPixel, 1)); is {
				t.Errorf("raw, stars of %.1f px, %.4f a pixel: near %.3f, far %.3f", fwhm, aPixel, f.look.near, f.look.far)
			}
		}
	}
	for name, kernel := range kernels {
		for i, fwhm := range []float64{1.5, 2.7} {
			px := crowd(fwhm, 0.005, uint64(i))
			for _, by := range [][3]float64{{0, 7.3, -2.6}, {math.Pi + 0.002, 0.2, 0}} {
				if f, is := shows(moved(px, kernel, by[0], by[1], by[2])); !is {
					t.Errorf("%s by %v, stars of %.1f px: near %.3f, far %.3f", name, by, fwhm, f.look.near, f.look.far)
				}
			}
		}
	}
	// An exact number of pixels leaves every pixel what it was.
	if f, is := shows(moved(crowd(2.7, 0.005, 3), kernels["cubic"], 0, 12, -5)); is {
		t.Errorf("moved by whole pixels: near %.3f, far %.3f", f.look.near, f.look.far)
	}
}
