package stars

import "fitsqa/internal/fact"

// Why a figure of a field, or of fields together, is missing. Package say has the words of
// each.
const (
	TooSmall          fact.Code = "frame_too_small_for_stars" // width_px, height_px
	NoPixels          fact.Code = "no_pixel_holds_value"
	NoNoise           fact.Code = "frame_without_noise"
	NoStandOut        fact.Code = "no_star_stands_out"
	NoneToFit         fact.Code = "no_star_to_fit"
	NoneFitted        fact.Code = "no_star_fitted"
	WidthsDisagree    fact.Code = "no_width_in_common"
	NoHalfFlux        fact.Code = "no_half_flux_diameter"
	ImagesRings       fact.Code = "images_are_rings"
	FewFitted         fact.Code = "few_fitted_stars"
	FewForDoubles     fact.Code = "few_stars_for_doubles"
	FewForHalo        fact.Code = "few_stars_for_halo"
	NoWidth           fact.Code = "stars_without_width"
	NoBackground      fact.Code = "no_background_for_noise"
	MosaicRows        fact.Code = "rows_of_other_colours"
	FewNeighbours     fact.Code = "few_pixels_for_noise"
	SmallForGradient  fact.Code = "small_for_gradient"
	GradientOfNothing fact.Code = "background_not_above_zero"
	NotMeasured       fact.Code = "field_not_measured"
	NoneToMatch       fact.Code = "no_field_to_match"
	FewToMatch        fact.Code = "few_stars_to_match" // stars
	OtherStars        fact.Code = "stars_do_not_match"
	FewInRow          fact.Code = "few_matched_in_a_row"
	FewPairsOfSubs    fact.Code = "few_pairs_of_matched_subs"
	NotMatched        fact.Code = "field_not_matched"
	FewInCommon       fact.Code = "few_stars_in_common" // stars
	MatchedByChance   fact.Code = "matched_by_chance"
	LightsDisagree    fact.Code = "lights_disagree"
	MisshapenBright   fact.Code = "misshapen_and_bright"
	FewForParts       fact.Code = "few_stars_for_parts"
	NoneLacking       fact.Code = "no_part_lacks_stars"
	FewForCover       fact.Code = "few_stars_for_cover"
	NoiseUnknown      fact.Code = "noise_of_field_unknown"  // reason
	FewMeasured       fact.Code = "few_measured_subs"       // subs, needed
	FewClear          fact.Code = "few_clear_subs"          // subs, needed
	NarrowMeasured    fact.Code = "narrow_airmass"          // left_out, span, needed
	NarrowClear       fact.Code = "narrow_airmass_of_clear" // left_out, span, needed
	TooCloudy         fact.Code = "too_much_cloud"
	ChangingCloud     fact.Code = "changing_cloud" // subs
	OneAirmass        fact.Code = "one_airmass"
	LightGrew         fact.Code = "light_grew_with_airmass" // mag_per_airmass
	TooSteep          fact.Code = "loss_beyond_clean_air"   // mag_per_airmass
	TrendUnsure       fact.Code = "trend_unsure"            // mag_per_airmass
	PointOfLight      fact.Code = "point_of_light"
	Broader           fact.Code = "broader_than_star"
	OnSpike           fact.Code = "on_spike"
	OnTrack           fact.Code = "on_track"
	OnRidge           fact.Code = "on_ridge"
	SecondImage       fact.Code = "second_image"
)
