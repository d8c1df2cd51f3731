package sky

import (
	"math"
	"testing"
)

// E10.1: arithmetic of the definition (grade A).
func TestBrightness(t *testing.T) {
	within(t, "1", Brightness(300./60, 1.5, 22), 21.1330312844, 1e-9)
	within(t, "1 in electrons", Brightness(300*.8/60, 1.5, ElectronZeroPoint(22, .8)), 21.1330312844, 1e-9)
	within(t, "zero point", ElectronZeroPoint(22, .8), 21.7577249675, 1e-9)
	within(t, "2", Brightness(120./300, 1, 21.5), 22.4948500217, 1e-9)
	within(t, "3", Brightness(50./30, 2.06265, 20), 21.0175058316, 1e-9)
}

// E10.2: photon rates of an AB sky (grade A: 3631 Jy and the definition of AB
// magnitudes), turned round: the zero point must give back the magnitude.
func TestZeroPointOfOptics(t *testing.T) {
	for _, c := range []struct {
		mag, rate, scale float64
		o                Optics
	}{
		{20, 4.2256271, 1.5, Optics{Aperture: .2, Efficiency: .6, Bandwidth: 100, Wavelength: 550}},
		{21, 1.8691694, 2, Optics{Aperture: .1, Efficiency: .5, Bandwidth: 300, Wavelength: 550}},
		{21, .0365666, 2, Optics{Aperture: .1, Efficiency: .5, Bandwidth: 7, Wavelength: 656}},
	} {
		// 2e-6: seven digits of the rate, .0365666 has six.
		within(t, "mag", Brightness(c.rate, c.scale, c.o.ZeroPoint()), c.mag, 2e-6)
	}
}

// Common practice, no source: a site measured at 18.91 mag per square arcsecond is
// called Bortle 7 by its owner; published tables put it into 6 or 7.
func TestBortle(t *testing.T) {
	for _, c := range []struct {
		mag  float64
		want Bortle
	}{
		{18.91, Bortle{6, 7}},
		{22.1, Bortle{1, 1}},
		{21.0, Bortle{4, 4}},
		{21.8, Bortle{1, 3}},
		{17.0, Bortle{8, 9}},
		{math.NaN(), Bortle{}},
	} {
		if got := BortleOf(c.mag); got != c.want {
			t.Errorf("%v: %v, want %v", c.mag, got, c.want)
		}
	}
}
