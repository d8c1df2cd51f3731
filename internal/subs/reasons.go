package subs

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	NotRead             fact.Code = "sub_not_read"
	TransparencyUnknown fact.Code = "transparency_unknown" // reason
	NoiseOrExposure     fact.Code = "noise_or_exposure_unknown"
	AllCulled           fact.Code = "all_of_group_culled"
	AirUnknown          fact.Code = "air_temperature_steady_or_unknown"
	FocusJumped         fact.Code = "focus_jumped"
	AirNotTold          fact.Code = "air_temperature_not_told"
	NotOfStars          fact.Code = "images_of_no_stars"
)
