package subs

import "fitsqa/internal/fact"

// The facts of findings: what leads, what tells of its kind, what limit was crossed.
// Package say has the words of each.
const (
	// of the file
	ReadFailed fact.Code = "read_failed" // error
	SamePixels fact.Code = "same_pixels" // file

	// of shape
	Elongation       fact.Code = "elongation"          // ellipticity, angle_deg, coherence
	LightDrawn       fact.Code = "light_drawn"         // ellipticity, angle_deg; at the places of the others' stars
	AlongDrift       fact.Code = "along_drift"         // drift_px, during the exposure; the trails lie along it
	NeighboursRound  fact.Code = "neighbours_round"    // those in time
	LikeNeighbours   fact.Code = "like_neighbours"     // drawn out as they are
	UnlikeNeighbours fact.Code = "unlike_neighbours"   // another way
	BeyondOptics     fact.Code = "beyond_optics"       // ellipticity, optics
	BeyondComet      fact.Code = "beyond_comet"        // ellipticity
	EllipticityLimit fact.Code = "ellipticity_limit"   // limit
	RoundestQuarter  fact.Code = "roundest_quarter"    // ellipticity; for which it is not culled
	StarsDoubled     fact.Code = "stars_doubled"       // share_pct, distance_px, limit_pct
	Width            fact.Code = "width"               // fwhm_px, times, whose, baseline_px
	WidthAcross      fact.Code = "width_across"        // fwhm_px, across_px, times, whose, baseline_px; across the trail
	RingWidth        fact.Code = "ring_width"          // hfd_px, times, whose, baseline_px
	WidthAlone       fact.Code = "width_alone"         // fwhm_px, without a baseline
	RingWidthAlone   fact.Code = "ring_width_alone"    // hfd_px
	LightSpread      fact.Code = "light_spread"        // times; at the places of the others' stars
	OutOfFocus       fact.Code = "out_of_focus"        // hfd_px
	Defocused        fact.Code = "defocused"           // the stars are rings
	SharpCores       fact.Code = "sharp_cores"         // fwhm_px; the light around them is spread
	LowInSky         fact.Code = "low_in_sky"          // airmass; seeing there makes the width
	SinceFlip        fact.Code = "since_flip"          // soft from there on
	SinceFilter      fact.Code = "since_filter_change" // likewise
	NeighboursSharp  fact.Code = "neighbours_sharp"    // of its group
	NeighboursSoft   fact.Code = "neighbours_soft"     // likewise
	WithTemperature  fact.Code = "with_temperature"    // range_c; the width changes with it
	Steadily         fact.Code = "steadily"            // the width changes
	SteadilyUnplaced fact.Code = "steadily_unplaced"   // likewise, and how high the target stood is not known
	WidthLimitPx     fact.Code = "width_limit_px"      // limit_px
	WidthLimit       fact.Code = "width_limit"         // limit_arcsec, limit_px
	SharpestQuarter  fact.Code = "sharpest_quarter"    // fwhm_arcsec; for which it is not culled
	PerhapsNoStars   fact.Code = "perhaps_no_stars"    // what is so large
	NoStarsWidth     fact.Code = "no_stars_width"      // fwhm_px, whose, baseline_px
	WideBesideSeason fact.Code = "wide_beside_season"  // times, fwhm_arcsec, season_arcsec

	// of light
	Uneven          fact.Code = "uneven"           // uneven_pct
	BrighterInParts fact.Code = "brighter_parts"   // than clear sky
	Transparent     fact.Code = "transparency"     // transparency
	StarsHidden     fact.Code = "stars_hidden"     // of_expected
	LightAtMost     fact.Code = "light_at_most"    // transparency
	SkyLit          fact.Code = "sky_lit"          // times, whose; beside lost light
	SkyDimmed       fact.Code = "sky_dimmed"       // with the stars
	UnevenToo       fact.Code = "uneven_too"       // uneven_pct; beside lost light
	InPlace         fact.Code = "in_place"         // it is lost at the same places of the frame in others
	FallingSteadily fact.Code = "falling_steadily" // the transparency; what halos do is not known
	FallingHaloed   fact.Code = "falling_haloed"   // halo_pct; likewise, while halos grow
	FallingUnhaloed fact.Code = "falling_unhaloed" // likewise, without halos
	Unsteady        fact.Code = "unsteady"         // likewise
	Evenly          fact.Code = "evenly"           // lost over the field
	WeightAllows    fact.Code = "weight_allows"    // for it
	ByAirmass       fact.Code = "by_airmass"       // airmass; explains the loss
	Burden          fact.Code = "burden"           // burden, limit
	CrossedLimit    fact.Code = "limit"            // limit
	And             fact.Code = "and"              // another finding's facts follow
	FieldCovered    fact.Code = "field_covered"    // covered_pct, limit_pct

	// of the sky
	SkyLevel   fact.Code = "sky_level"    // sky_adu, times, whose, baseline_adu
	SkyByNoise fact.Code = "sky_by_noise" // times, whose
	SunAt      fact.Code = "sun"          // sun_deg
	SunSaidLow fact.Code = "sun_said_low" // sun_deg
	SkyRising  fact.Code = "sky_rising"   // at the edge of the night
	MoonAt     fact.Code = "moon"         // lit_pct, moon_deg

	// of star counts
	StarCount      fact.Code = "star_count"       // stars, of_expected
	TooFewToTie    fact.Code = "too_few_to_tie"   // for a transparency
	StarsAsStreaks fact.Code = "stars_as_streaks" // stars, streaks, limit
	NoneSeen       fact.Code = "none_seen"        // no stars
	StrayOnly      fact.Code = "stray_only"       // detections
	KnotsOnly      fact.Code = "knots_only"       // images
	Blank          fact.Code = "no_values"        // of pixels
	RangeFilled    fact.Code = "range_filled"     // by the sky: no star can stand out
	OthersHave     fact.Code = "others_have"      // stars, whose
	StreaksInstead fact.Code = "streaks_instead"  // streaks
	InTwilight     fact.Code = "in_twilight"      // times, whose
	SunStood       fact.Code = "sun_stood"        // sun_deg
	UnderCloud     fact.Code = "under_cloud"      // times, whose
	CapOrCover     fact.Code = "cap_or_cover"     // times, whose
	BetweenClouded fact.Code = "between_clouded"  // subs
	BesideCovered  fact.Code = "beside_covered"   // next in time to a sub whose field is covered
	PointingLost   fact.Code = "pointing_lost"    // stars

	// of settings and the sensor
	OddSetting     fact.Code = "odd_setting"      // setting, value, others, subs, usual
	LoneFilter     fact.Code = "lone_filter"      // filter, usual
	SensorOff      fact.Code = "sensor_off"       // sensor_c, off_c, set_c
	WarmthAdds     fact.Code = "warmth_adds"      // share, of the noise's variance
	NoiseAlone     fact.Code = "noise_alone"      // times, whose; no more sky explains it
	SensorOffGroup fact.Code = "sensor_off_group" // off_c, sensor_c
	WarmthLights   fact.Code = "warmth_lights"    // off_c, sensor_c
)

// The facts of a group as a whole.
const (
	FewReadable    fact.Code = "few_readable"    // fewest
	NoWeights      fact.Code = "no_weights"      // of any sub
	NoExposures    fact.Code = "no_exposures"    // of any sub
	SensorRange    fact.Code = "sensor_range"    // from_c, to_c, set_c
	SensorDrift    fact.Code = "sensor_drift"    // from_c, to_c; of an unregulated one
	PoorShape      fact.Code = "poor_shape"      // ellipticity, limit
	PoorWidth      fact.Code = "poor_width"      // fwhm_px, fwhm_arcsec, limit_px, limit_arcsec
	CometFollowed  fact.Code = "comet_followed"  // drift_px, during the exposure
	AlternateLines fact.Code = "alternate_lines" // lines, adu, subs, measured

	ClearestBesideCloud fact.Code = "clearest_beside_cloud" // left, minutes
)

// Finding is one cause with the facts that speak for it.
type Finding struct {
	Cause    Cause
	Verdict  Verdict
	Severity float64 // 1 at the doubtful limit, 2 at the cull limit, growing on
	Facts    []fact.Fact
}

// whose baseline a figure is held against.
func (e *evidence) whose() fact.Value {
	if e.base.ofNight { // which has no other baseline
		return fact.Text("whose", "night")
	}
	if e.Filter == "" {
		return fact.Text("whose", "group")
	}
	return fact.Text("whose", "filter")
}

// limited is the fact of a limit that was crossed.
func limited(limit float64) fact.Fact { return fact.Of(CrossedLimit, fact.Number("limit", limit)) }
