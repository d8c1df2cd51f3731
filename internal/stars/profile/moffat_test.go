package profile

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
)

// 2 R50 / FWHM of Moffat profiles, Moffat 1969 (A&A 3, 455) by the relation R50
// = g sqrt(2^(1/(beta-1)) - 1): half the flux lies within. Seven digits given.
func TestMoffatHalfFlux(t *testing.T) {
	for beta, ratio := range map[float64]float64{2: 1.5537740, 2.5: 1.3558965, 3: 1.2623839, 3.5: 1.2078283, 4: 1.1720658, 4.765: 1.1362111, 10: 1.0561489} {
		if got := enclosed(1/beta, ratio); !(math.Abs(got-0.5) <= 1e-6) {
			t.Errorf("beta %g: %.8f of the flux within the half-flux radius", beta, got)
		}
	}
}

// The peak of a round Moffat of unit flux is (beta-1)/(pi g²), with FWHM = 2 g
// sqrt(2^(1/beta)-1) (same source).
func TestMoffatFlux(t *testing.T) {
	for _, beta := range []float64{2.5, 4} {
		const fwhm = 3.0
		g := fwhm / 2 / math.Sqrt(math.Exp2(1/beta)-1)
		m := Moffat{amplitude: (beta - 1) / (math.Pi * g * g), q: 1 / beta}
		m.Cxx, m.Cxy, m.Cyy = ShapeMatrix(fwhm/2, fwhm/2, 0)
		if got := m.flux(); !(math.Abs(got-1) <= 1e-12) {
			t.Errorf("beta %g: flux %.15f of unit flux", beta, got)
		}
	}
}

// Axes and angle survive the way into the matrix and back; angles are those of
// an axis, in (-90, 90].
func TestShapeMatrix(t *testing.T) {
	for _, angle := range []float64{-89, -60, -1, 0, 13, 45, 90} {
		m := Moffat{}
		m.Cxx, m.Cxy, m.Cyy = ShapeMatrix(2.5, 2, angle)
		a, b, got := m.axes()
		if math.Abs(a-2.5)+math.Abs(b-2) > 1e-12 || !(math.Abs(math.Remainder(got-angle, 180)) <= 1e-9) || got <= -90 || got > 90 {
			t.Errorf("angle %g: axes %.6f, %.6f at %.6f", angle, a, b, got)
		}
	}
}

// A fit that ended at the thinnest line that is tried lost its star, and is no start for
// the next one.
func TestThinnestLineIsNoStar(t *testing.T) {
	star, seeing := stars.Star{X: 100, Y: 80}, detect.RoundSeeing(3.3)
	for half, want := range map[float64]bool{0.2000002: false, 0.5: true} {
		f := fitted{trail: true, p: params{0: 100, 1: 80, 2: 500, 4: 1 / (half * half), 5: -7.2, 6: -11.9}}
		if got := f.plausible(&star, seeing); got != want {
			t.Errorf("half width %g px: %v", half, got)
		}
	}
}

// A trail of length L adds L²/12 to the second moment along it: 1 - b/a for a
// round profile of FWHM 3 drawn over 2 and 4 px, and of 2.5 over 1 (computed
// from that relation to seven digits).
func TestTrailEllipticity(t *testing.T) {
	for _, c := range []struct{ fwhm, length, want float64 }{{3, 2, 0.0891674}, {3, 4, 0.2590576}, {2.5, 1, 0.0350366}} {
		f := fitted{trail: true, p: params{4: 4 / (c.fwhm * c.fwhm), 5: c.length}}
		if a, b, _ := f.axes(); !(math.Abs(1-b/a-c.want) <= 1e-7) {
			t.Errorf("FWHM %g trail %g: ellipticity %.7f, want %.7f", c.fwhm, c.length, 1-b/a, c.want)
		}
	}
}
