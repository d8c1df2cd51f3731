package say

import (
	"fmt"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/subs"
)

// Sub is why a sub was judged as it was: the user's own verdict, what leads of what was
// found, and what changes no verdict; "" for a good one.
func Sub(s *subs.Sub) string {
	var parts []string
	if s.UserDecision {
		own := fmt.Sprintf("your decision: %s", s.Verdict)
		if s.Measured != s.Verdict {
			own += fmt.Sprintf(" (measured: %s)", s.Measured)
		}
		parts = append(parts, own)
	}
	if len(s.Findings) > 0 {
		parts = append(parts, Facts(s.Findings[0].Facts))
	}
	for _, f := range s.Remarks {
		parts = append(parts, Fact(f))
	}
	return strings.Join(parts, "; ")
}

// predicate is what a cause makes of a sub or of several, and what an observer can do
// about it (common practice, no source); that of focus stands in its own sentence.
type predicate struct{ one, many, remedy string }

var predicates = map[subs.Cause]predicate{
	subs.Cloud:         {"is clouded", "are clouded", ""},
	subs.Haze:          {"is hazy", "are hazy", ""},
	subs.Trailed:       {"is trailed", "are trailed", ""},
	subs.Soft:          {"is soft", "are soft", ""},
	subs.BrightSky:     {"has a bright sky", "have a bright sky", ""},
	subs.Twilight:      {"lies in twilight", "lie in twilight", ""},
	subs.Moonlit:       {"is moonlit", "are moonlit", "narrow filters bear the Moon better"},
	subs.FewStars:      {"shows too few stars", "show too few stars", ""},
	subs.NoStars:       {"shows no stars", "show no stars", ""},
	subs.WrongSettings: {"was shot with other settings", "were shot with other settings", "check the sequence before it starts"},
	subs.Truncated:     {"is cut short", "are cut short", "check disk and transfer"},
	subs.Unreadable:    {"cannot be read", "cannot be read", ""},
	subs.Duplicate:     {"is a copy", "are copies", "one of each is enough"},
	subs.Obstructed:    {"is covered in part", "are covered in part", "see what stands in the way"},
	subs.Dewed:         {"is dewed", "are dewed", "heat them"},
}

// findingPhrases are the words of what subs are judged by. They follow one another
// without a gap.
var findingPhrases = map[fact.Code]string{
	subs.ReadFailed: "{error}",
	subs.SamePixels: "same pixels as {file}",

	subs.Elongation:       "ellipticity {ellipticity %.2f} along {angle_deg %.0f}°, coherence {coherence %.2f}",
	subs.LightDrawn:       "the light at the places of the stars that other subs show is drawn out, ellipticity {ellipticity %.2f} along {angle_deg %.0f}°",
	subs.AlongDrift:       ", along the drift: tracking",
	subs.NeighboursRound:  ", its neighbours are round: wind or a knock",
	subs.LikeNeighbours:   " as in its neighbours: tracking",
	subs.UnlikeNeighbours: " unlike its neighbours: wind",
	subs.BeyondOptics:     ", {ellipticity %.2f} beyond the optics' {optics %.2f}",
	subs.BeyondComet:      ", {ellipticity %.2f} beyond what following the comet draws",
	subs.EllipticityLimit: "; limit {limit %.2g}",
	subs.RoundestQuarter:  ", and not culled since the group's roundest quarter is at {ellipticity %.2f}",
	subs.StarsDoubled:     "{share_pct %.0f} % of the stars' light stands beside them, {distance_px %.0f} px away: the mount jumped or lost its guide star, or the dither had not settled; limit {limit_pct %.0f} %",

	subs.Width:            "FWHM {fwhm_px %.1f} px, {times %.2f} times the {whose}'s {baseline_px %.2f}",
	subs.WidthAcross:      "FWHM {fwhm_px %.1f} px, across the trail {across_px %.1f} px, {times %.2f} times the {whose}'s {baseline_px %.2f}",
	subs.RingWidth:        "half-flux diameter {hfd_px %.1f} px, {times %.2f} times the {whose}'s {baseline_px %.2f}",
	subs.WidthAlone:       "FWHM {fwhm_px %.1f} px",
	subs.RingWidthAlone:   "half-flux diameter {hfd_px %.1f} px",
	subs.LightSpread:      "the light at the places of the stars that other subs show is spread {times %.1f} times as wide as there",
	subs.OutOfFocus:       "stars are rings, half-flux diameter {hfd_px %.1f} px: far out of focus",
	subs.Defocused:        ", focus",
	subs.SharpCores:       ", around cores of {fwhm_px %.1f} px: out of focus for a part of the exposure",
	subs.LowInSky:         ", low in the sky at airmass {airmass %.1f}: seeing",
	subs.SinceFlip:        ", since the flip: focus",
	subs.SinceFilter:      ", since the filter change: focus",
	subs.NeighboursSharp:  ", its neighbours are sharp: seeing or wind",
	subs.NeighboursSoft:   ", and so are its neighbours: focus, or a spell of bad seeing",
	subs.WithTemperature:  ", changing steadily with the air temperature ({range_c %.1f} °C): focus",
	subs.Steadily:         ", changing steadily: focus drift",
	subs.SteadilyUnplaced: ", changing steadily: focus drift, or the height of the target, which is not known",
	subs.WidthLimitPx:     "; limit {limit_px %g} px, the pixel scale being unknown",
	subs.WidthLimit:       "; limit {limit_arcsec %g}\" and {limit_px %g} px",
	subs.SharpestQuarter:  ", and not culled since the group's sharpest quarter is at {fwhm_arcsec %.1f}\"",
	subs.PerhapsNoStars:   "; it may be knots of a nebula and no stars that are so large, look at it",
	subs.NoStarsWidth:     "; its width of {fwhm_px %.1f} px is no star's beside the {whose}'s {baseline_px %.1f}: hot pixels may have been measured, look at it",
	subs.WideBesideSeason: "its stars are {times %.1f} times as wide as those of the season's sharpest quarter" +
		" (FWHM {fwhm_arcsec %.1f}, there {season_arcsec %.1f} arcsec)",

	subs.Uneven:          "transparency uneven over the field by {uneven_pct %.1f} % or more",
	subs.BrighterInParts: ", parts of it brighter than under the clear sky of most subs: the filter stood before the rest of it only",
	subs.Transparent:     "transparency {transparency %.2f} of clear",
	subs.LightAtMost:     "the stars that other subs show are not there: transparency {transparency %.2f} of clear at most",
	subs.StarsHidden:     " where stars are seen, and those are {of_expected %.2f} of the expected",
	subs.SkyLit:          ", sky {times %.2f} times the {whose}'s",
	subs.SkyDimmed:       ", and the sky darker by as much: something stood before the telescope, or it was exposed for less than the header tells",
	subs.UnevenToo:       ", uneven by {uneven_pct %.1f} % or more",
	subs.InPlace:         ", lost at the same places of the frame in other subs",
	subs.FallingSteadily: ", falling steadily under an unchanged sky: dew on the optics, or a thickening haze",
	subs.FallingHaloed:   ", falling under an unchanged sky while halos grow around the stars, to {halo_pct %.0f} % of their light: dew on the optics, or ice haze that thickens",
	subs.FallingUnhaloed: ", falling steadily under an unchanged sky without halos around the stars: dew of fine drops, or a thickening haze",
	subs.Unsteady:        ", changing from sub to sub",
	subs.Evenly:          ", evenly",
	subs.WeightAllows:    ", which its weight allows for",
	subs.ByAirmass:       ", which airmass {airmass %.1f} explains",
	subs.Burden:          ": {burden %.2f} times the noise that a scaled average bears; limit {limit %g}",
	subs.CrossedLimit:    "; limit {limit %.3g}",
	subs.And:             "; ",
	subs.FieldCovered:    "{covered_pct %.0f} % of the field is without light, the rest is clear: something stands before it, or frost lies on the optics; limit {limit_pct %g} %",

	subs.SkyLevel:   "sky {sky_adu %.4g} ADU, {times %.2f} times the {whose}'s {baseline_adu %.4g}",
	subs.SkyByNoise: "sky noise squared {times %.2f} times the {whose}'s",
	subs.SunAt:      ", Sun at {sun_deg %.0f}°",
	subs.SunSaidLow: ", as in twilight, but the Sun at {sun_deg %.0f}° by the headers",
	subs.SkyRising:  ", rising smoothly at the edge of the night",
	subs.MoonAt:     ", Moon {lit_pct %.0f} % lit at {moon_deg %.0f}°",

	subs.StarCount:      "{stars #star}, {of_expected %.2f} of those to be expected",
	subs.TooFewToTie:    ", too few for a transparency",
	subs.StarsAsStreaks: "{stars #star} and {streaks #streak}: the stars are drawn out; limit {limit %g} of the stars",
	subs.NoneSeen:       "no stars",
	subs.StrayOnly:      "no stars but {detections #stray detection}",
	subs.KnotsOnly:      "no stars but {images #image} of many widths, as knots of nebulae are",
	subs.Blank:          ", no pixel holds a value",
	subs.RangeFilled:    ", the sky fills the camera's range",
	subs.OthersHave:     ", the {whose}'s subs have {stars %.0f}",
	subs.StreaksInstead: ": {streaks #streak} instead",
	subs.SunStood:       ": the Sun stood at {sun_deg %.0f}°",
	subs.InTwilight:     ": the sky is {times %.1f} times the {whose}'s",
	subs.UnderCloud:     ": the sky is {times %.2f} times the {whose}'s",
	subs.CapOrCover:     ", and the sky is {times %.2f} times the {whose}'s: cap or cover",
	subs.BetweenClouded: ": between clouded subs",
	subs.BesideCovered:  ", next to a sub whose field is covered",
	subs.PointingLost:   "none of its {stars #star} fits the target's field: pointing lost",

	subs.OddSetting:     "{setting} {value}, {others %.0f} of the target's {subs #sub} {others ?has:have} {usual}",
	subs.LoneFilter:     "filter {filter |none}, the subs before and after it have {usual |none}",
	subs.SensorOff:      "sensor at {sensor_c %.1f} °C, {off_c %.1f} °C off the set {set_c %.1f}",
	subs.WarmthAdds:     ", which may add {share %.2g} of the noise's variance",
	subs.NoiseAlone:     "noise {times %.2f} times the {whose}'s without more sky",
	subs.WarmthLights:   ", which the dark current of a sensor {off_c %.1f} °C above the group's {sensor_c %.1f} explains",
	subs.SensorOffGroup: ", sensor {off_c %.1f} °C off the group's {sensor_c %.1f}",
}

var groupPhrases = map[fact.Code]string{
	subs.FewReadable:         "fewer than {fewest %.0f} readable subs: held to absolute limits, but for their width, which is held against the night's other subs",
	subs.NoExposures:         "no header tells an exposure, so hours and weights are unknown; names like Light_30s_001.fits tell it too",
	subs.NoWeights:           "no sub has a weight, so equivalent clear time is unknown",
	subs.SensorRange:         "the sensor was at {from_c %.1f} to {to_c %.1f} °C, set to {set_c %g}: darks of these temperatures fit",
	subs.SensorDrift:         "the sensor went from {from_c %.1f} to {to_c %.1f} °C: darks of these temperatures fit",
	subs.PoorShape:           "poor as a whole: the stars of the typical sub are drawn out in one direction by {ellipticity %.2f}; limit {limit %g}",
	subs.PoorWidth:           "poor as a whole: the typical sub has a FWHM of {fwhm_px %.1f} px, {fwhm_arcsec %.1f}\"; limits {limit_px %g} px and {limit_arcsec %g}\"",
	subs.CometFollowed:       "the mount followed the comet, {drift_px %.1f} px in an exposure: that its stars are lines is no fault",
	subs.ClearestBesideCloud: "its clearest subs were shot within {minutes %.0f} min of others' that had {left %.2f} of their light: its best may be no clear sky, its transparencies too high and its clear hours too many",
	subs.AlternateLines:      "alternate {lines} differ by {adu %.2g} ADU in {subs %.0f} of {measured #sub}: it is in their noise (noise_adu), and no flat takes it off",
}

// GroupNotes are what holds for a group as a whole.
func GroupNotes(g *subs.Group) []string { return each(g.Notes) }

// Cause is a cause as people read it: "bright sky" for bright_sky.
func Cause(c subs.Cause) string { return strings.ReplaceAll(string(c), "_", " ") }

// Event is a run of bad subs: "cloud 22:14 to 22:51: 14 subs", times in UTC.
func Event(e subs.Event) string {
	date := ""
	if e.Dated {
		date = " on " + e.Start.UTC().Format(time.DateOnly) + ","
	}
	return fmt.Sprintf("%s%s %s to %s: %s", Cause(e.Cause), date, e.Start.UTC().Format("15:04"), e.End.UTC().Format("15:04"), fact.Plural(e.Subs, "sub"))
}
