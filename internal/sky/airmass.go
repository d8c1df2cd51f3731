package sky

import "math"

// Airmass relative to the zenith for an apparent (refracted) altitude in
// degrees: Kasten and Young 1989, Applied Optics 28, 4735, equation 3. It is
// good to the horizon, where it gives 37.9, and 0.9997 at the zenith. NaN below
// the horizon.
func Airmass(apparentAltDeg float64) float64 {
	if !(apparentAltDeg >= 0) {
		return math.NaN()
	}
	z := 90 - apparentAltDeg
	return 1 / (math.Cos(z*math.Pi/180) + 0.50572*math.Pow(96.07995-z, -1.6364))
}
