package sky

import "math"

// The model of moonlight is Krisciunas and Schaefer 1991, PASP 103, 1033. Its
// authors put its accuracy at 8 to 23 %. Brightness is in nanolamberts (V
// band), because lights add.
//
// The Moon's light is dimmed by at most five airmasses, at the horizon (eq 3), and
// so comes up at once at moonrise, at 0.45 of what it would be without air. That
// is the model as published. It is not far off: the air that scatters lies, on
// average over its mass, under less of it than the ground does, and single
// scattering summed over heights, (1 - exp(-τX))/(τX) with Kasten and Young's X,
// gives 0.49 for the model's 0.48 at 5°, 0.66 for 0.55 at 10° and 0.17 for 0.45
// at 0° (derived here). Below the horizon the model has no light, where the
// highest air still has some.

// Extinction is what the model's authors used, V mag per airmass. A hazy site
// at sea level has up to twice as much.
const Extinction = 0.172

// moonlight is the brightness that the Moon adds to the sky, nL. The phase
// angle is 0 at full Moon, separation is Moon to target, both zenith distances
// are degrees, k is extinction in mag per airmass.
func moonlight(phaseAngle, separation, moonZenithDistance, zenithDistance, k float64) float64 {
	a := math.Abs(phaseAngle)
	v := -12.73 + 0.026*a + 4e-9*a*a*a*a     // eq 9
	illuminance := pow10(-0.4 * (v + 16.57)) // eq 8
	cosRho := math.Cos(separation * math.Pi / 180)
	scatter := pow10(5.36)*(1.06+cosRho*cosRho) + pow10(6.15-separation/40) // eq 21
	return scatter * illuminance * pow10(-0.4*k*scatterPath(moonZenithDistance)) *
		(1 - pow10(-0.4*k*scatterPath(zenithDistance))) // eq 15
}

// darkSky is the brightness of a moonless sky far from towns, nL: 79 nL at the
// zenith (21.59 mag per square arcsecond), more towards the horizon (eq 2).
func darkSky(zenithDistance, k float64) float64 {
	x := scatterPath(zenithDistance)
	return 79 * pow10(-0.4*k*(x-1)) * x
}

// brightening in magnitudes when light is added to a sky, both nL; negative.
func brightening(sky, light float64) float64 {
	return -2.5 * math.Log10((sky+light)/sky)
}

// MagFromNL turns nanolamberts into V mag per square arcsecond (Garstang 1986,
// PASP 98, 364).
func MagFromNL(nL float64) float64 { return (20.7233 - math.Log(nL/34.08)) / 0.92104 }

// NLFromMag is the inverse of MagFromNL.
func NLFromMag(mag float64) float64 { return 34.08 * math.Exp(20.7233-0.92104*mag) }

// scatterPath is the airmass of the scattering layer (eq 3); it stays finite
// at the horizon.
func scatterPath(z float64) float64 {
	s := math.Sin(z * math.Pi / 180)
	return 1 / math.Sqrt(1-0.96*s*s)
}

func pow10(x float64) float64 { return math.Pow(10, x) }

// MoonColour is how much more of the Moon's light air scatters at a wavelength
// (nm) than in V, at a separation from the Moon in degrees, relative to a sky of
// one brightness: the first term of eq 21 is that of air molecules, which goes
// as λ⁻⁴ (Rayleigh), the second that of aerosols, taken as grey. Derived here; the
// Moon's own colour, and that of the sky it is compared with, are left out.
func MoonColour(wavelengthNM, separation float64) float64 {
	const v = 550.0 // nm, the middle of V
	cosRho := math.Cos(separation * math.Pi / 180)
	molecules, aerosols := pow10(5.36)*(1.06+cosRho*cosRho), pow10(6.15-separation/40)
	return (molecules*math.Pow(v/wavelengthNM, 4) + aerosols) / (molecules + aerosols)
}
