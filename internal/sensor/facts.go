package sensor

import "fitsqa/internal/fact"

// The warnings of a set of calibration frames or of a camera. Package say has the
// words of each, and what to do about it.
const (
	BiasOffSetPoint fact.Code = "bias_off_set_point" // from_c, to_c, off_c
	OffsetLow       fact.Code = "offset_low"         // cut_pct, enough_adu
	BiasExposed     fact.Code = "bias_exposed"       // exposure_s
	TelegraphNoise  fact.Code = "telegraph_noise"    // noisy_pct
	LevelDrifts     fact.Code = "level_drifts"       // adu_per_frame

	DarksOffSetPoint fact.Code = "darks_off_set_point"    // off_c
	TemperatureMoved fact.Code = "temperature_moved"      // rms_c
	DarkGradient     fact.Code = "dark_gradient"          // uneven_pct
	DarkDrift        fact.Code = "dark_drift"             // uneven_pct, drift_adu
	BiasUnfit        fact.Code = "bias_unfit"             // reason
	NoBias           fact.Code = "no_bias"                // with the darks' settings
	GlowSeen         fact.Code = "glow_seen"              // place, height_adu
	SubtractedBefore fact.Code = "dark_frames_calibrated" // frames; left out
	FlatsOffSetPoint fact.Code = "flats_off_set_point"    // from_c, to_c, off_c
	FlatsBright      fact.Code = "flats_bright"           // level_pct
	FlatsFaint       fact.Code = "flats_faint"            // level_pct
	FlatsSaturated   fact.Code = "flats_saturated"        // saturated_pct
	FlatsNoOffset    fact.Code = "flats_no_offset"        // neither bias nor darks
	LightFlickers    fact.Code = "light_flickers"         // flicker_pct
	FlatsFew         fact.Code = "flats_few"              // snr, flats
	FlatsUnlit       fact.Code = "flats_unlit"            // unlit_pct
	ShutterTravels   fact.Code = "shutter_travels"        // shortest_s, longest_s, off_pct, travel_ms, enough_s, master_pct
	ShutterLeftOut   fact.Code = "shutter_left_out"       // shortest_s, longest_s, off_pct, travel_ms, enough_s, flats; left out of the master
	FlatsOfTwoShapes fact.Code = "flats_of_two_shapes"    // shortest_s, longest_s, off_pct, like
	FlatDark         fact.Code = "flat_dark"              // file; left out
	FlatSaturated    fact.Code = "flat_saturated"         // file; left out
	FlatsBanded      fact.Code = "flats_banded"           // files
	FlatsAlternate   fact.Code = "flats_alternate_rows"   // share_pct, flats
	DustUnmatched    fact.Code = "dust_unmatched"         // finding, and its values
	HeaderGainOff    fact.Code = "header_gain_off"        // header, measured
	HeaderGainSteps  fact.Code = "header_gain_steps"      // header, step_adu
	HeaderGainOfStep fact.Code = "header_gain_of_step"    // header, step_adu, e_per_adu
	CurveOff         fact.Code = "transfer_curve_off"     // slope, measured
	CurveBends       fact.Code = "transfer_curve_bends"   // slope, measured, low_pct
	OffsetMoved      fact.Code = "darks_off_bias"         // temp_c, off_adu
	DarksNotStraight fact.Code = "darks_not_straight"     // temp_c, scatter_adu
	NoiseBelieved    fact.Code = "darks_noise_believed"   // temp_c, level_adu_per_s, noise_adu_per_s
	DarksSlow        fact.Code = "darks_hardly_grow"      // doubling_c, slowest_c
	DarksStraight    fact.Code = "darks_straight"         // adu_per_s, exposures, zero_adu; no warning
)

// The notes on figures: how they were measured, what they were made with.
const (
	SingleFrame   fact.Code = "single_frame" // reason; whether it is raw
	FirstPlane    fact.Code = "plane"        // plane, adu
	NextPlane     fact.Code = "next_plane"   // plane, adu
	CutMadeUp     fact.Code = "cut_made_up"  // cut_pct
	WithSteps     fact.Code = "with_steps"   // adu; quantisation included
	StepsHide     fact.Code = "steps_hide"   // adu
	UpperLimit    fact.Code = "upper_limit"  // of what is measured
	OnePixelIn100 fact.Code = "one_pixel_in_100"
	NoisyAbove    fact.Code = "noisy_above"     // adu
	BandingParts  fact.Code = "banding"         // lines, fixed_adu, changing_adu
	SamplesAtZero fact.Code = "samples_at_zero" // the share is theirs
	OffsetByTemp  fact.Code = "offset_by_temp"  // adu_per_c
	OutlierFrame  fact.Code = "outlier_frame"   // file, off_adu
	MasterNoiseAt fact.Code = "master_noise"    // adu_10, adu_20, adu_50, adu_100, adu_200, adu_500, adu_1000
	ScaledSamples fact.Code = "scaled_samples"  // bits

	GainMeasured   fact.Code = "gain_measured"   // e_per_adu
	GainRemembered fact.Code = "gain_remembered" // e_per_adu, night
	GainOfHeader   fact.Code = "gain_of_header"  // e_per_adu
	OfNight        fact.Code = "of_night"        // night
	DaysBefore     fact.Code = "days_before"     // days
	NoiseByDarks   fact.Code = "noise_by_darks"  // no bias frames
	OfHeader       fact.Code = "of_header"       // not measured

	DarkMinusBias   fact.Code = "dark_minus_bias"     // one exposure
	SlopeAlone      fact.Code = "slope_without_bias"  // exposures
	SlopeBiasOut    fact.Code = "slope_bias_left_out" // exposures, off_adu
	SlopeWithBias   fact.Code = "slope_with_bias"     // exposures
	ByNoise         fact.Code = "by_noise"            // level_adu_per_s
	EvenLight       fact.Code = "even_light_untold"   // would be in it
	HardlyGrows     fact.Code = "hardly_grows"        // with temperature
	BiasWarmer      fact.Code = "bias_of_other_temp"  // gap_c
	WhateverOffset  fact.Code = "noise_whatever_offset"
	InterceptOfBias fact.Code = "intercept_above_bias"
	InterceptAlone  fact.Code = "intercept_without_bias"
	MeanRate        fact.Code = "mean_rate"             // adu_per_s
	HotByShot       fact.Code = "hot_by_shot_noise"     // in most frames
	HotBySigma      fact.Code = "hot_by_sigma"          // sigma; in most frames
	HotOneByShot    fact.Code = "hot_by_shot_noise_one" // of one frame
	HotOneBySigma   fact.Code = "hot_by_sigma_one"      // sigma; of one frame
	ColdPixels      fact.Code = "cold_pixels"           // pixels
	AboveByShot     fact.Code = "threshold_by_shot_noise"
	AboveBySigma    fact.Code = "threshold_by_sigma" // sigma
	HotLeftOut      fact.Code = "hot_left_out"
	GlowPlace       fact.Code = "glow_place" // place, cell_px
	GlowHighest     fact.Code = "glow_highest"
	LeakGradient    fact.Code = "leak_gradient" // across the frame
	LeakDrift       fact.Code = "leak_drift"    // drift_adu
	SensorMinusSet  fact.Code = "sensor_minus_set"
	AboutMean       fact.Code = "about_mean"

	LevelOf             fact.Code = "level_of"       // level_adu, saturation_adu
	LevelsFromTo        fact.Code = "levels_from_to" // from_adu, to_adu, flats
	GainByPairs         fact.Code = "gain_by_pairs"  // offset_from
	GainByFlats         fact.Code = "gain_by_flats"  // offset_from; the read noise is known as far as a master lets it be
	OffsetOfBias        fact.Code = "offset_of_bias"
	OffsetOfMasterBias  fact.Code = "offset_of_master_bias"
	OffsetOfFlatDarks   fact.Code = "offset_of_flat_darks"   // of the flats' exposure
	OffsetOfFlatDark    fact.Code = "offset_of_flat_dark"    // a master of that
	OffsetOfLongerDarks fact.Code = "offset_of_longer_darks" // exposure_s; their share on the bias
	OffsetOfDarks       fact.Code = "offset_of_darks"        // exposure_s; in place of bias frames
	OffsetOfMasterDark  fact.Code = "offset_of_master_dark"  // exposure_s; likewise
	DarkInFlats         fact.Code = "dark_in_flats"          // exposure_s; nothing tells how much
	NoDeadPixels        fact.Code = "no_dead_pixels"
	DeadPixels          fact.Code = "dead_pixels" // pixels, x, y; of the first
	DeadPixelAt         fact.Code = "dead_pixel"  // x, y
	AndMore             fact.Code = "and_more"    // more
	Corners             fact.Code = "corners"     // lower_left_pct, lower_right_pct, upper_left_pct, upper_right_pct
	FlatsDrift          fact.Code = "flats_drift" // drift_pct
	OfMasterPixel       fact.Code = "of_master_pixel"
	ShadowAt            fact.Code = "shadow"        // x, y, diameter_px, depth_pct
	ShadowSeatedAt      fact.Code = "seated_shadow" // x, y, diameter_px, depth_pct, on
	DustUntold          fact.Code = "dust_untold"   // reason

	GainAgainst     fact.Code = "gain_against_header"    // measured, header
	GainHeaderMute  fact.Code = "gain_header_silent"     // measured alone
	NotThisTime     fact.Code = "not_measured_this_time" // reason
	GainOnlyHeader  fact.Code = "gain_header_only"       // reason
	GainBright      fact.Code = "gain_of_bright_flats"   // from_pct
	GainOneLevel    fact.Code = "gain_of_one_level"      // a bend would not be seen
	GainUnbent      fact.Code = "gain_without_light"     // falls_pct
	CurveGives      fact.Code = "transfer_curve"         // e_per_adu, intercept_adu2, intercept_adu2_err
	CurveFalls      fact.Code = "transfer_curve_falls"   // low_pct, low_pct_err
	WellByCurve     fact.Code = "well_by_curve"
	WellByEnd       fact.Code = "well_by_saturation"
	SaturationPile  fact.Code = "saturation_pile"    // set
	SaturationStep  fact.Code = "saturation_by_step" // bits
	SaturationFlats fact.Code = "saturation_of_flats"
	SaturationClaim fact.Code = "saturation_claimed"
	FromLine        fact.Code = "deviation_from_line"
	LawBasis        fact.Code = "law_basis"       // mid_c, temperatures
	LawExact        fact.Code = "law_exact"       // mid_c, temperatures
	MeasuredAt      fact.Code = "measured_at"     // temp_c
	InterpolatedTo  fact.Code = "interpolated_to" // temp_c
	ExtrapolatedTo  fact.Code = "extrapolated_to" // temp_c
	ByOldLaw        fact.Code = "by_earlier_law"  // night
)

// What makes flats of several exposures differ in shape as a shutter's travel does.
const (
	ShapeBends fact.Code = "shape_bends" // a response that bends
	ShapeMoves fact.Code = "shape_moves" // a gradient of the sky that moves
)

// Where a glow is, as the frame is stored: y = 0 is the lower edge.
const (
	LowerLeft  fact.Code = "glow_lower_left"
	LowerRight fact.Code = "glow_lower_right"
	UpperLeft  fact.Code = "glow_upper_left"
	UpperRight fact.Code = "glow_upper_right"
	Left       fact.Code = "glow_left"
	Right      fact.Code = "glow_right"
	Lower      fact.Code = "glow_lower"
	Upper      fact.Code = "glow_upper"
	Inside     fact.Code = "glow_inside"
)
