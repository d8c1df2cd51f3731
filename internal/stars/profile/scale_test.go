package profile

import (
	"math"
	"testing"

	"fitsqa/internal/stars/detect"
)

// Values of scipy.special.expn, times e^x, within the error that Abramowitz and Stegun
// (5.1.52) give, times 1/n^4.
func TestExponentialIntegral(t *testing.T) {
	for _, c := range []struct{ n, x, want float64 }{{2, 0.5, 0.538544684}, {3, 1, 0.298173681}, {4, 0.5, 0.272439362}, {10, 1, 0.098929133}} {
		if got := exponentialIntegral(c.n, c.x); !(math.Abs(got/c.want-1) <= 0.36/math.Pow(c.n, 4)) {
			t.Errorf("order %g at %g: %.6f, want %.6f", c.n, c.x, got, c.want)
		}
	}
}

// What the filter answers with is the Gaussian of its form over the profile: of Gaussian
// stars the ratio of the square roots of the determinants, exactly; of Moffat's the sum
// over both to 1 %, and 3 % where they are as elongated as that the mean of both axes is
// not the integral over all directions.
func TestAnsweredShareOfLight(t *testing.T) {
	s := detect.RoundSeeing(3)
	sum := func(p *params) (answer float64) {
		m := Moffat{amplitude: 1, Cxx: p[4], Cxy: p[5], Cyy: p[6], q: p[7]}
		const step = 0.1
		for y := -12.0; y < 12; y += step {
			for x := -12.0; x < 12; x += step {
				u := p[4]*x*x + 2*p[5]*x*y + p[6]*y*y
				profile := math.Pow(1+(math.Exp2(p[7])-1)*u, -1/p[7])
				// The filter's variance without the pixel's, which the star has on top.
				answer += step * step * profile * math.Exp(-(x*x+y*y)/2/(s.Xx+1./12))
			}
		}
		return answer / m.flux()
	}
	for _, q := range []float64{0.01, 0.25, 0.4} {
		for _, shape := range [][3]float64{{2, 2, 0}, {3, 3, 0}, {4.5, 4.5, 0}, {6, 6, 0}, {5, 3, 30}} {
			var p, usual params
			p[4], p[5], p[6] = ShapeMatrix(shape[0]/2, shape[1]/2, shape[2])
			usual[4], usual[5], usual[6] = ShapeMatrix(1.5, 1.5, 0)
			p[7], usual[7] = q, q
			got, want := answered(&p, s)/answered(&usual, s), sum(&p)/sum(&usual)
			if !(math.Abs(got/want-1) <= 0.03) {
				t.Errorf("%v, 1/beta %g: %.4f, want %.4f", shape, q, got, want)
			}
		}
	}
}
