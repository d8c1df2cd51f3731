package sky

import "testing"

// TestMoonlight is the worked value of specsim, a published simulation of
// spectroscopic surveys (grade A), and values computed from the formulas of Krisciunas
// and Schaefer 1991 (grade B: the arithmetic is independent, the attribution of
// equation 15 is from memory).
func TestMoonlight(t *testing.T) {
	within(t, "nL", moonlight(45, 50, 70, 20, .15), 389.51593, 0.0005)
	within(t, "mag", MagFromNL(moonlight(45, 50, 70, 20, .15)), 19.855, 0.0005)
	for _, c := range []struct{ z, zm, rho, phase, nL, mag float64 }{
		{0, 30, 30, 0, 2367.588, 17.89540},
		{40, 50, 90, 0, 1059.625, 18.76828},
		{0, 60, 60, 90, 99.1732, 21.34016},
		{30, 45, 60, 120, 35.2276, 22.46393},
		{60, 60, 60, 0, 1924.634, 18.12030},
	} {
		light := moonlight(c.phase, c.rho, c.zm, c.z, Extinction)
		within(t, "nL", light, c.nL, 0.0006) // last digit given
		within(t, "mag", MagFromNL(light), c.mag, 0.00001)
	}
	if moonlight(-45, 50, 70, 20, .15) != moonlight(45, 50, 70, 20, .15) {
		t.Error("the phase angle's sign must not matter")
	}
}

// The dark sky of equation 2 and the brightening by the Moon (grade B).
func TestBrightening(t *testing.T) {
	for _, c := range []struct{ z, nL, mag float64 }{{0, 79, 21.58708}, {30, 88.5322, 21.46339}, {60, 129.6667, 21.04908}} {
		within(t, "nL", darkSky(c.z, Extinction), c.nL, 0.0001)
		within(t, "mag", MagFromNL(darkSky(c.z, Extinction)), c.mag, 0.00001)
	}
	within(t, "1st", brightening(darkSky(0, Extinction), moonlight(0, 30, 30, 0, Extinction)), -3.72733, 0.00001)
	within(t, "3rd", brightening(darkSky(0, Extinction), moonlight(90, 60, 60, 0, Extinction)), -0.88304, 0.00001)
	within(t, "4th", brightening(darkSky(30, Extinction), moonlight(120, 60, 45, 30, Extinction)), -0.36370, 0.00001)
	if brightening(79, 0) != 0 {
		t.Error("no light must not brighten")
	}
}

// Nanolamberts and magnitudes (Garstang 1986, grade A).
func TestMagnitudesOfNanolamberts(t *testing.T) {
	for mag, nL := range map[float64]float64{18: 2150.145, 20: 340.7710, 21: 135.6626, 21.6: 78.0654, 22: 54.0079} {
		within(t, "nL", NLFromMag(mag)/nL, 1, 1e-6)
		within(t, "mag", MagFromNL(nL), mag, 1e-6)
	}
}
