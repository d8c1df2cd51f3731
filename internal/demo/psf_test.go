package demo

import (
	"math"
	"testing"
)

// sums gives flux and second moments of a star image summed over pixels.
func (p *psf) sums(x0, y0 float64) (flux, xx, yy, xy float64) {
	r := int(p.radius) - 1
	for y := -r; y <= r; y++ {
		for x := -r; x <= r; x++ {
			dx, dy := float64(x)-x0, float64(y)-y0
			v := float64(p.at(dx, dy))
			flux, xx, yy, xy = flux+v, xx+v*dx*dx, yy+v*dy*dy, xy+v*dx*dy
		}
	}
	return flux, xx / flux, yy / flux, xy / flux
}

// Wherever the star falls between pixels, its pixels add up to its light. A
// Moffat profile of exponent 3.5 keeps (1+r²/g²)^-2.5 outside a radius, under
// 1e-4 at 33 px; the bilinear table adds a little more.
func TestStarLightIsConserved(t *testing.T) {
	for _, fwhm := range []float64{2, 3.9, 6} {
		p := newPSF(fwhm, 0, 0, 0)
		for _, at := range [][2]float64{{0, 0}, {0.5, 0.5}, {0.27, -0.41}} {
			if flux, _, _, _ := p.sums(at[0], at[1]); !(math.Abs(flux-1) <= 2e-3) {
				t.Errorf("FWHM %v at %v: flux %v", fwhm, at, flux)
			}
		}
	}
}

// The table against the slow obvious way: a Moffat profile summed over 41 x 41
// points of every pixel.
func TestTableAgreesWithDirectIntegration(t *testing.T) {
	const fwhm, n = 3.2, 41
	p := newPSF(fwhm, 0, 0, 0)
	g := fwhm / (2 * math.Sqrt(math.Pow(2, 1/3.5)-1))
	peak := float64(p.at(0, 0))
	for _, at := range [][2]float64{{0, 0}, {0.4, 0.2}, {1.3, -0.7}, {3.1, 2.2}, {8, 0.5}} {
		var sum float64
		for j := range n {
			for i := range n {
				x := at[0] + (float64(i)+0.5)/n - 0.5
				y := at[1] + (float64(j)+0.5)/n - 0.5
				sum += 2.5 / (math.Pi * g * g) * math.Pow(1+(x*x+y*y)/(g*g), -3.5)
			}
		}
		want := sum / (n * n)
		// Linear interpolation over a sixth of a pixel: h²/8 f'' is under 0.5 % of the peak.
		if got := float64(p.at(at[0], at[1])); !(math.Abs(got-want) <= 0.005*peak) {
			t.Errorf("at %v: %v, directly %v", at, got, want)
		}
	}
}

func TestTrueWidthIsTheOneAskedFor(t *testing.T) {
	for _, fwhm := range []float64{2, 3.9, 8} {
		p := newPSF(fwhm, 0, 0, 0)
		// Interpolation over a sixth of a pixel.
		if !(math.Abs(p.fwhm/fwhm-1) <= 0.003) {
			t.Errorf("FWHM %v, want %v", p.fwhm, fwhm)
		}
		// Pixels broaden, by little at 8 px.
		if p.fwhmPixel <= p.fwhm || p.fwhmPixel > math.Hypot(fwhm, 0.9) {
			t.Errorf("FWHM %v after pixels of %v", p.fwhmPixel, fwhm)
		}
		if p.ellipticity != 0 {
			t.Errorf("round star has ellipticity %v", p.ellipticity)
		}
	}
}

// A uniform trail of length L adds L²/12 to the second moment along it and
// nothing across (variance of a uniform distribution).
func TestTrailAddsItsVariance(t *testing.T) {
	const length = 6.0
	round, trailed := newPSF(3.5, 0, 0, 0), newPSF(3.5, 0, length, 30)
	_, xx0, yy0, _ := round.sums(0, 0)
	_, xx, yy, xy := trailed.sums(0, 0)
	cos, sin := math.Cos(math.Pi/6), math.Sin(math.Pi/6)
	along := cos*cos*xx + sin*sin*yy + 2*sin*cos*xy - (xx0+yy0)/2
	across := sin*sin*xx + cos*cos*yy - 2*sin*cos*xy - (xx0+yy0)/2
	want := length * length / 12
	// The wings of the Moffat profile are cut at a larger radius: 2 %.
	if !(math.Abs(along-want) <= 0.05) || !(math.Abs(across) <= 0.05) {
		t.Errorf("moments grow by %v along and %v across, want %v and 0", along, across, want)
	}
	if !(math.Abs(trailed.angle-30) <= 1e-9) || trailed.ellipticity < 0.3 {
		t.Errorf("angle %v, ellipticity %v", trailed.angle, trailed.ellipticity)
	}
}

// A ring from 0.3 R to R has the variance R²(1+0.3²)/4 along each axis.
func TestDefocusAddsTheVarianceOfTheRing(t *testing.T) {
	const blur = 8.0
	sharp, soft := newPSF(3.5, 0, 0, 0), newPSF(3.5, blur, 0, 0)
	_, xx0, _, _ := sharp.sums(0, 0)
	_, xx, yy, _ := soft.sums(0, 0)
	want := blur * blur / 4 * (1 + obstruction*obstruction) / 4
	if !(math.Abs(xx-xx0-want) <= 0.08) || !(math.Abs(xx-yy) <= 1e-3) { // wings cut at different radii
		t.Errorf("variance grows by %v, want %v", xx-xx0, want)
	}
	if soft.fwhm < 1.3*sharp.fwhm {
		t.Errorf("FWHM %v from %v", soft.fwhm, sharp.fwhm)
	}
}

func TestFoldAngle(t *testing.T) {
	for in, want := range map[float64]float64{0: 0, 90: 90, -90: 90, 91: -89, 180: 0, -179: 1, 270: 90, 540: 0} {
		if got := foldAngle(in); got != want {
			t.Errorf("foldAngle(%v) = %v, want %v", in, got, want)
		}
	}
}
