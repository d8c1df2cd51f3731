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

// Weight of a star in the medians of its field, by the error of its shape. Errors beyond 2 %,
// where stars differ by themselves, count.
func Weight(shapeErr float64) float64 { return 1 / (shapeErr*shapeErr + 0.02*0.02) }

// Vector is a star's ellipticity vector.
func (st *Star) Vector() (x, y float64) {
	s, c := math.Sincos(2 * st.Angle * math.Pi / 180)
	return st.Ellipticity * c, st.Ellipticity * s
}

// Drawn is how far the images of a field are drawn out all alike, (e cos 2 theta, e sin 2 theta),
// with the error of each; N = stars, 0: not known.
type Drawn struct {
	X, Y, Err float64
	N         int
}

// Length is that beyond what others share, less what noise makes of it (Rice's law).
func (d *Drawn) Length(x, y float64) float64 {
	x, y = d.X-x, d.Y-y
	return math.Sqrt(max(0, x*x+y*y-2*d.Err*d.Err))
}
