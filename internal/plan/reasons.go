package plan

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	NeverRises        fact.Code = "target_never_rises"
	NotUpNow          fact.Code = "target_not_up_now"
	GoalInHours       fact.Code = "goal_in_hours"
	NoWeight          fact.Code = "no_sub_has_weight"
	EarlierUnknown    fact.Code = "earlier_nights_unknown" // error
	NoClearTime       fact.Code = "no_clear_time"
	NoSubYet          fact.Code = "no_sub_of_goal"
	NoiseOrExposure   fact.Code = "read_noise_or_exposure_unknown"
	GoalNeedsZero     fact.Code = "goal_needs_zero_point"
	NoZeroPoint       fact.Code = "no_zero_point_of_filter"
	FewStars          fact.Code = "too_few_stars"
	SaturationUnknown fact.Code = "saturation_level_unknown"
	FewForSaturation  fact.Code = "few_stars_for_saturation"
	TrailingRare      fact.Code = "trailing_rare"
	ReadNoiseUnknown  fact.Code = "read_noise_unknown"
	ExposureUnknown   fact.Code = "exposure_of_subs_unknown"
	NoTwoInRow        fact.Code = "no_two_in_a_row"
	NoUsableSub       fact.Code = "no_usable_sub"
	SkyUnknown        fact.Code = "sky_in_electrons_unknown" // reason
	ScaleUnknown      fact.Code = "pixel_scale_unknown"
	SunStaysUp        fact.Code = "sun_never_deep"
)

// What subs before and after a pause tell of its reason.
const (
	MeridianFlip fact.Code = "meridian_flip"
	TargetChange fact.Code = "change_of_target"
	FilterChange fact.Code = "change_of_filter"
	FocusMoved   fact.Code = "focus_moved"
)
