package worth

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	NotWeighed     fact.Code = "not_weighed"
	NoPattern      fact.Code = "dark_pattern_unknown"
	NoDarksNoGlow  fact.Code = "no_darks_for_glow"
	NoSetGlows     fact.Code = "no_dark_set_glows"
	NoGroupWeighed fact.Code = "no_group_weighed"
	FewSubs        fact.Code = "too_few_subs"
	StarsCover     fact.Code = "stars_cover_frame"
	HiddenInSubs   fact.Code = "hidden_in_noise_of_subs"
	FewHotPixels   fact.Code = "too_few_hot_pixels"
	DarksNotAtHand fact.Code = "darks_not_at_hand"
	NoneThere      fact.Code = "none_there"
	FlatsTellIt    fact.Code = "flats_tell_it"
	NoEdgeBrighter fact.Code = "no_edge_brighter"
	SkyOrSensor    fact.Code = "sky_or_sensor"
	CornersBright  fact.Code = "corners_bright"
	NoneSure       fact.Code = "no_glow_sure"
)
