package sky

import (
	"math"
	"testing"
)

// The oracle is the mount itself: its pole circles the true one, and the camera's
// up is the direction from the star to it on the sphere. Over a day the fastest
// turn must give back the whole error, and no turn more than that.
func TestPolarError(t *testing.T) {
	const rad = math.Pi / 180
	// towards is the position angle of a pole rho off the true one, at hour angle
	// h from the star at declination dec.
	towards := func(rho, h, dec float64) float64 {
		x := math.Sin(rho) * math.Sin(h)
		y := math.Cos(rho)*math.Cos(dec) - math.Sin(rho)*math.Cos(h)*math.Sin(dec)
		return math.Atan2(x, y)
	}
	for _, rho := range []float64{1. / 60, 0.2, 1} {
		for _, dec := range []float64{-60, 0, 41, 75} {
			fastest := 0.0
			for h := 0.0; h < 360; h += 2 {
				// A minute of the mount's turn on either side.
				step := siderealRate / 60
				turn := (towards(rho*rad, (h+step)*rad, dec*rad) - towards(rho*rad, (h-step)*rad, dec*rad)) / rad * 30
				fastest = max(fastest, PolarError(turn, dec))
			}
			// The small-angle derivation is off by ρ tan δ: 0.065 at 1° and 75°.
			within(t, "largest bound over the error", fastest/rho, 1, 0.001+1.2*rho*rad*math.Abs(math.Tan(dec*rad)))
		}
	}
	for _, dec := range []float64{90, -89.5, math.NaN()} {
		if got := PolarError(1, dec); !math.IsNaN(got) {
			t.Errorf("declination %v: %v", dec, got)
		}
	}
}
