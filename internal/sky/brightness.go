package sky

import "math"

// Brightness of the sky in mag per square arcsecond from the rate of a pixel,
// the angle it spans (arcsec/px) and the magnitude that gives a rate of 1 in
// the same units (ADU/s or e-/s). The passband is that of the zero point.
func Brightness(rate, pixelScale, zeroPoint float64) float64 {
	return zeroPoint - 2.5*math.Log10(rate/(pixelScale*pixelScale))
}

// ElectronZeroPoint turns the magnitude that gives 1 ADU/s into the one that
// gives 1 e-/s.
func ElectronZeroPoint(zeroPointADU, electronsPerADU float64) float64 {
	return zeroPointADU + 2.5*math.Log10(electronsPerADU)
}

// Optics is what turns photons into electrons.
type Optics struct {
	Aperture   float64 // m, diameter
	Efficiency float64 // of mirrors, filter, sensor and aperture obstruction together, 0..1
	Bandwidth  float64 // nm, of the filter
	Wavelength float64 // nm, middle of the filter
}

// ZeroPoint is the AB magnitude that should give 1 e-/s, from the 3631 Jy of AB
// magnitude 0 (Oke and Gunn 1983, ApJ 266, 713). It is as good as the efficiency
// that was put in.
func (o Optics) ZeroPoint() float64 {
	const photons = 3631e-26 / 6.62607015e-34 // per s, m² and unit of d(ln wavelength), at mag 0
	area := math.Pi / 4 * o.Aperture * o.Aperture
	return 2.5 * math.Log10(photons*o.Bandwidth/o.Wavelength*area*o.Efficiency)
}

// Bortle is the classes that a sky may be of, from 1 for the darkest to 9; none are zero.
type Bortle struct{ Lowest, Highest int }

// bortleClass is the class, or classes, of a sky that is no brighter than mag.
type bortleClass struct {
	mag    float64
	lo, hi int
}

// bortleTables are three published tables, which disagree by about 0.3 mag.
// Bortle's own paper (2001, Sky and Telescope 101-2, 126) describes the classes
// in words and gives no magnitudes.
var bortleTables = [][]bortleClass{
	{{21.7, 1, 1}, {21.5, 2, 2}, {21.3, 3, 3}, {20.4, 4, 4}, {19.1, 5, 5}, {18.0, 6, 7}, {math.Inf(-1), 8, 9}},
	{{21.99, 1, 1}, {21.89, 2, 2}, {21.69, 3, 3}, {20.49, 4, 4}, {19.50, 5, 5}, {18.94, 6, 6}, {18.38, 7, 7}, {math.Inf(-1), 8, 9}},
	{{21.8, 1, 1}, {21.6, 2, 2}, {21.3, 3, 3}, {20.4, 4, 4}, {19.3, 5, 5}, {18.5, 6, 6}, {18.0, 7, 7}, {17.5, 8, 8}, {math.Inf(-1), 9, 9}},
}

// BortleOf is about what a sky brightness in V is: from the lowest to the highest class
// that published tables give it; none for NaN.
func BortleOf(mag float64) Bortle {
	if math.IsNaN(mag) {
		return Bortle{}
	}
	of := Bortle{Lowest: 9, Highest: 1}
	for _, table := range bortleTables {
		for _, class := range table {
			if mag >= class.mag {
				of.Lowest, of.Highest = min(of.Lowest, class.lo), max(of.Highest, class.hi)
				break
			}
		}
	}
	return of
}
