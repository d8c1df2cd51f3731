package say

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/stars"
)

// fieldPhrases are the words of what the stars of a field tell, and why something was
// not looked for; likely causes are common practice, no source.
var fieldPhrases = map[fact.Code]string{
	stars.HotAdded:     "{points #point} of light as sharp as hot pixels {points ?moves:move} with the field: {points ?a star:stars}, added to the others",
	stars.HotTakenOff:  "{points #point} of light {points ?stays at its pixel:stay at their pixels} while the field moves: {points ?a hot pixel:hot pixels}, taken off the stars",
	stars.HardlyWider:  "the stars are hardly wider than the {apart} are apart, so that their width depends on the assumed profile",
	stars.PointsLeft:   "{points #point} of light that {points ?fills:fill} one or two pixels {points ?was:were} left out as {points ?a hot pixel:hot pixels}: {points ?it may be a faint star:some may be faint stars}",
	stars.TakenForHot:  "{points #point} of light of one pixel {points ?was taken for a hot pixel:each were taken for hot pixels}; too few stars tell how sharp stars are, and any as sharp as a pixel would be among them",
	stars.NoMap:        "no map: {stars #star} of measured width, {needed %.0f} are needed",
	stars.NoMapWidths:  "no map: no sub has stars of measured width",
	stars.NoMapKept:    "no map: no sub is kept",
	stars.NotLookedFor: "tilt, curvature, coma and tracking were not looked for: that takes {needed %.0f} stars of measured width",
	stars.NoPattern:    "no tilt, curvature, coma or common elongation stands out",

	stars.SideSoft:        "the {place @} is soft: FWHM {soft_px %.2f} px there and {sharp_px %.2f} px opposite, {less_px ±} px less: likely a tilted sensor or a sagging focuser",
	stars.FacingSoft:      "the {places @} are soft: FWHM {soft_px %.2f} px there and {sharp_px %.2f} px at the other two, {less_px ±} px less: likely a tilted sensor that is in focus between them",
	stars.CornersSoft:     "the corners are softer than the middle by {softer_pct ±} %: likely field curvature or a corrector at the wrong distance",
	stars.SharpestOff:     "the sharpest point lies off the middle, at x = {x_px %.0f}, y = {y_px %.0f} px: likely collimation or tilt",
	stars.DrawnAlike:      "stars all over the field are drawn out alike, by {ellipticity ±} at {angle_deg %.0f}°: likely tracking or wind, not optics",
	stars.DrawnFromMiddle: "stars towards the corners are drawn out away from the middle, by {ellipticity ±} there: likely coma or a corrector too near or too far",
	stars.DrawnRound:      "stars towards the corners are drawn out around the middle, by {ellipticity ±} there: likely astigmatism or a corrector too near or too far",

	stars.AtLeft:       "left edge (x = 0 as stored)",
	stars.AtRight:      "right edge (x = max as stored)",
	stars.AtLower:      "lower edge (y = 0 as stored)",
	stars.AtUpper:      "upper edge (y = max as stored)",
	stars.AtLowerLeft:  "lower left corner (x = 0, y = 0 as stored)",
	stars.AtLowerRight: "lower right corner (x = max, y = 0 as stored)",
	stars.AtUpperLeft:  "upper left corner (x = 0, y = max as stored)",
	stars.AtUpperRight: "upper right corner (x = max, y = max as stored)",

	stars.AtRisingCorners:  "lower left and upper right corners (y = 0 is below, as stored)",
	stars.AtFallingCorners: "upper left and lower right corners (y = 0 is below, as stored)",
	stars.AtSides:          "left and right edges",
	stars.AtEnds:           "lower and upper edges (y = 0 is below, as stored)",
}

var motionPhrases = map[fact.Code]string{
	night.DriftBeyondDither: "the drift is larger in an hour than the dither: the sensor's fixed pattern may be drawn out into streaks; dither more",
	night.PointingJumped:    "the pointing jumped before {files}{more +}",
	night.FieldsForeign:     "{files}{more +}: the stars are not those of the target's other subs: wrong target or pointing lost",
	night.TurnsLikeAltAz: "the field turns by {turn_deg_per_h ±} °/h, more than a mount that follows the sky around its polar axis lets it:" +
		" an alt-azimuth mount, or a camera that slips{trail @}",
	night.PolarAxisOff:    "the field turns by {turn_deg_per_h ±} °/h: the polar axis points at least {polar_arcmin %.1f}' beside the pole{trail @}",
	night.PolarAxisFarOff: "the field turns by {turn_deg_per_h ±} °/h: the polar axis points at least {polar_arcmin %.0f}' beside the pole{trail @}",
	night.FieldTurns:      "the field turns by {turn_deg_per_h ±} °/h{trail @}: align the polar axis better",
	night.CornerTrails:    "; it moves the corner stars by {trail_px %.1f} px in a sub of {exposure_s %g} s",
	night.CornerHardly:    "; it moves the corner stars by {trail_px %.1f} px in a sub of {exposure_s %g} s, too little to show",
	night.CornersUnknown:  "",
}

var placePhrases = map[fact.Code]string{
	night.PointsAway:       "the header points {off_arcmin %.0f}' away from where the frame lies",
	night.ScaleOfHeaderOff: "the header's focal length or pixel size is wrong by {off_pct %.0f} %: {header_arcsec_px %.4g} arcsec/px by it, {stars_arcsec_px %.4g} by the stars, which widths in arcsec go by",
	night.SubsElsewhere:    "{subs #sub} {subs ?is:are} not the target that {subs ?its:their} header names, {target}: {files}",
	night.TargetElsewhere:  "not the target that the header names: it lies {apart_deg %.1f}° from {named}",
}

// Each puts facts into words, a sentence for each.
func Each(all []fact.Fact) []string { return each(all) }
