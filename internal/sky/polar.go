package sky

import "math"

// siderealRate is how fast the sky turns, degrees per hour.
const siderealRate = 15.0410686

// PolarError is the least angle, degrees, between a mount's polar axis and the
// pole that makes a guided field at this declination turn so fast (degrees per
// hour, either way); NaN at the pole and where a figure is NaN.
//
// Derived here: the camera's up keeps pointing at the mount's pole, which
// circles the true one at a distance ρ once a sidereal day. At hour angle H from
// the circle on which the mount's pole lies, its direction as seen from the field
// is off by ρ sin H / cos δ (ρ small), and so turns at 15.04°/h × ρ cos H / cos δ.
// H is not known, so that the rate bounds ρ from below. Hook 1989, JBAA 99, 19
// treats the same for photography (from memory).
func PolarError(degPerHour, decDeg float64) float64 {
	cos := math.Cos(decDeg * math.Pi / 180)
	if !(math.Abs(decDeg) <= 89) { // nearer to the pole the small angles of the derivation are none
		return math.NaN()
	}
	return math.Abs(degPerHour) * cos / (siderealRate * math.Pi / 180)
}
