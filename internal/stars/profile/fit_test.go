package profile

import (
	"math"
	"testing"

	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/simulated"
)

// exactStamp is a noiseless star, its profile summed over 25 x 25 points a pixel.
func exactStamp(q simulated.PSF, x, y, radius float64) []sample {
	var out []sample
	ts, tc := math.Sincos(q.TrailAngle * math.Pi / 180)
	steps := 1
	if q.Trail > 0 {
		steps = 40
	}
	for j := math.Ceil(y - radius); j <= y+radius; j++ {
		for i := math.Ceil(x - radius); i <= x+radius; i++ {
			if math.Hypot(i-x, j-y) > radius {
				continue
			}
			var sum float64
			for k := range steps {
				t := q.Trail * ((float64(k)+0.5)/float64(steps) - 0.5)
				for b := range 25 {
					for a := range 25 {
						sum += q.At(i+(float64(a)+0.5)/25-0.5-x-t*tc, j+(float64(b)+0.5)/25-0.5-y-t*ts)
					}
				}
			}
			out = append(out, sample{i, j, 1000 * sum / 625 / float64(steps), 1})
		}
	}
	return out
}

// A noiseless star drawn with 25 x 25 points a pixel must come back from the
// fit, round or not, whatever its place within the pixel. 0.2 % covers the nodes
// of the pixel integration for stars hardly wider than a pixel; 0.003, that its
// correction takes a star for round.
func TestFitExactProfiles(t *testing.T) {
	for _, fwhm := range []float64{1.2, 1.5, 2, 2.5, 3, 4, 8} {
		if testing.Short() && fwhm > 3 { // slow to draw
			break
		}
		for _, beta := range []float64{0, 2.5, 4} {
			for k, off := range []float64{0, 0.3, 0.5} {
				want := simulated.PSF{Fwhm: fwhm, Beta: beta, Ellipticity: 0.2 * float64(k), Angle: 70 * off}
				stamp := exactStamp(want, 20+off, 20-off/2, 2*fwhm+2)
				p := seedOf(detect.RoundSeeing(fwhm * 1.1))
				var f fitter
				f.prepareFor(&p, false)
				p[0], p[1], p[2], p[7] = 20, 20, 100, qMin
				if beta > 0 {
					p[7] = 1 / beta
				}
				ok := f.fit(stamp, &p)
				got := fitted{p: p}
				a, b, angle := got.axes()
				if size := 2 * math.Sqrt(a*b); !ok || !(math.Abs(size/fwhm-1) <= 0.002) || !(math.Abs(1-b/a-want.Ellipticity) <= 0.003) {
					t.Errorf("%+v at +%g: fitted %v, FWHM %.4f, ellipticity %.4f", want, off, ok, size, 1-b/a)
				}
				if math.Hypot(p[0]-20-off, p[1]-20+off/2) > 0.003 || want.Ellipticity > 0 && math.Abs(angle-want.Angle) > 0.3 {
					t.Errorf("%+v at +%g: centre off by %.4f, %.4f px, angle %.2f", want, off, p[0]-20-off, p[1]-20+off/2, angle)
				}
			}
		}
	}
}
