package sensor

import "fitsqa/internal/fact"

// Why nothing of a set, or not a figure of it, could be measured. Package say has the words
// of each.
const (
	Unstackable        fact.Code = "set_unstackable" // error
	NoneRead           fact.Code = "no_frame_read"
	ConstantFrames     fact.Code = "constant_frames"
	DarkTakenOff       fact.Code = "dark_taken_off"
	DarksNotReread     fact.Code = "darks_not_read_again"
	UnderBias          fact.Code = "darks_under_bias" // level_adu, bias_adu
	NoUsableFlat       fact.Code = "flats_dark_or_saturated"
	LoneUnknown        fact.Code = "lone_frame_raw_or_master"
	LoneMaster         fact.Code = "lone_frame_is_master"
	BiasLit            fact.Code = "bias_lit"                  // above_adu, darks, noise_adu, darks_noise_adu
	DarkLit            fact.Code = "darks_lit"                 // low, low_adu, high, high_adu
	BiasUnusable       fact.Code = "bias_unusable"             // reason
	BiasAstray         fact.Code = "bias_of_other_temperature" // bias, sensor_c, set_c, darks_c
	NothingBelow       fact.Code = "map_of_offset"
	SaturationUnknown  fact.Code = "saturation_unknown"
	LevelButUnknown    fact.Code = "level_but_saturation_unknown" // level_adu, reason
	LeftOut            fact.Code = "left_out"
	GainNeedsTwo       fact.Code = "gain_needs_two_flats"
	GainNeedsPair      fact.Code = "one_flat_no_gain"
	GainNotGiven       fact.Code = "gain_not_given"   // reason
	NoFlatsBetween     fact.Code = "no_flats_between" // from_pct, to_pct
	NoFlats            fact.Code = "no_flats"
	NoFlatsNoHeader    fact.Code = "no_flats_and_no_header_gain"
	NoFlatPair         fact.Code = "no_pair_of_flats"
	NoBiasPair         fact.Code = "two_bias_needed"
	PairSmallOrDark    fact.Code = "pair_small_or_dark"
	FlatsAlike         fact.Code = "flats_alike"
	FlatsNoiseless     fact.Code = "flats_without_noise"
	FewPairsAgree      fact.Code = "few_pairs_agree" // agree, pairs
	PairsScatter       fact.Code = "pairs_scatter"   // scatter_pct, times
	CurveTooShort      fact.Code = "transfer_curve_too_short"
	NoBend             fact.Code = "no_bend"
	LinearityNeeds     fact.Code = "linearity_needs"
	DriftNeedsFlats    fact.Code = "drift_needs_flats"
	FlickerNeedsFlats  fact.Code = "flicker_needs_flats"
	FramesSmall        fact.Code = "frames_too_small"
	FrameSmall         fact.Code = "frame_too_small"
	LittleLight        fact.Code = "too_little_light"
	ResponseHidden     fact.Code = "response_spread_hidden" // at_most_pct
	OffsetInFlats      fact.Code = "offset_in_flats"        // no bias, no darks
	BrightestSaturated fact.Code = "brightest_saturated"
	NoiseOfTheseDarks  fact.Code = "noise_of_these_darks"
	NoBiasFrames       fact.Code = "no_bias_frames"
	NoBiasAlike        fact.Code = "no_bias_of_settings"
	FewValues          fact.Code = "few_different_values"
	PatternHidden      fact.Code = "pattern_hidden"    // at_most_adu
	PixelsNeed         fact.Code = "pixel_noise_needs" // frames, needed
	OutliersNeed       fact.Code = "outliers_need"     // frames
	DriftNeeds         fact.Code = "drift_needs"       // frames
	TempsOfThree       fact.Code = "temperatures_of_three_needed"
	TempsOfTwo         fact.Code = "temperatures_of_two_needed"
	TempSteady         fact.Code = "temperature_steady" // span_c
	TempsNotBoth       fact.Code = "temperatures_not_both"
	TempUnknown        fact.Code = "sensor_temperature_unknown"
	DarkExposure       fact.Code = "dark_exposure_unknown"
	OneExposure        fact.Code = "one_exposure"
	TwoDarksNeeded     fact.Code = "two_darks_needed"
	NoClaim            fact.Code = "dark_current_unclaimed" // moves_adu
	NoNoiseOfOne       fact.Code = "one_dark_no_noise"
	BiasNoiseUnknown   fact.Code = "bias_noise_unknown" // reason
	UnevenHidden       fact.Code = "dark_spread_hidden" // at_most_adu
	NoGlow             fact.Code = "no_glow"            // at_most_adu
	GlowOfOffset       fact.Code = "glow_of_offset"     // height_adu
	SignalTooSmall     fact.Code = "dark_signal_too_small"
	NoLeak             fact.Code = "no_leak" // at_most_pct
	GradientOfGlow     fact.Code = "gradient_of_glow"
	GradientOfOffset   fact.Code = "gradient_of_offset" // gradient_adu, own_adu
	NoDarkCurrent      fact.Code = "no_dark_current"
	LawNeeds           fact.Code = "law_needs" // apart_c
	NoGrowth           fact.Code = "no_growth_with_temperature"
	TooSlow            fact.Code = "too_slow_with_temperature" // doubling_c, slowest_c
	NoLaw              fact.Code = "no_law"                    // nearest_c, temp_c
	NoTwoExposures     fact.Code = "no_two_exposures"
	NoiseOfCurrent     fact.Code = "noise_of_dark_current"
	NotRemembered      fact.Code = "never_measured"
	NoSubs             fact.Code = "no_subs_for_darks"
	OneAbscissa        fact.Code = "no_line"
)
