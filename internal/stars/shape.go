package stars

import "math"

// SigmaToFWHM is the full width at half maximum of a Gaussian over its sd.
const SigmaToFWHM = 2.3548200450309493

// Wrap90 brings the angle of an axis into (-90, 90].
func Wrap90(a float64) float64 {
	a = math.Mod(a, 180)
	if a > 90 {
		a -= 180
	}
	if a <= -90 {
		a += 180
	}
	return a
}

// Unfit takes a star's shape away: it is as if no profile had been fitted.
func (st *Star) Unfit() {
	nan := math.NaN()
	st.Fitted, st.FWHM, st.FWHMErr, st.Beta, st.Ellipticity, st.Angle, st.ShapeErr, st.HFD = false, nan, nan, nan, nan, nan, nan, nan
}

// Vector is a star's ellipticity vector.
func (st *Star) Vector() (x, y float64) {
	s, c := math.Sincos(2 * st.Angle * math.Pi / 180)
	return st.Ellipticity * c, st.Ellipticity * s
}
