package subs

import "math"

// weatherTransparency is the transparency that is left when the extinction
// beyond the given airmass is allowed for: what cloud and haze leave.
func weatherTransparency(s *Sub, airmass float64) float64 {
	return s.Transparency.Ratio.V / extinction(s, airmass)
}

// extinction is the transparency that the air alone allows relative to the
// given airmass; 1 where an airmass is unknown. m = m0 + k X (Bouguer).
func extinction(s *Sub, airmass float64) float64 {
	if !s.Sky.Airmass.OK() || math.IsNaN(airmass) {
		return 1
	}
	return math.Pow(10, -0.4*UsualExtinction*(s.Sky.Airmass.V-airmass))
}
