package plate

import "fitsqa/internal/fact"

// Why a frame was not found on the sky, or a figure is missing. Package say has the words of
// each.
const (
	NotMeasured        fact.Code = "frame_not_measured"
	FewStars           fact.Code = "few_stars_for_catalogue" // stars
	SparseThere        fact.Code = "sparse_catalogue_there"  // stars
	SparseField        fact.Code = "sparse_catalogue"        // stars
	EmptyField         fact.Code = "empty_catalogue"
	NotThereAnyScale   fact.Code = "not_there_at_any_scale"  // within_deg
	NotThere           fact.Code = "not_where_header_points" // within_deg
	NotAnywhere        fact.Code = "not_in_catalogue"
	GivenUp            fact.Code = "search_given_up"
	OtherSide          fact.Code = "tied_to_other_side"
	TieNoMap           fact.Code = "tie_is_no_map"
	NotWhereTied       fact.Code = "not_where_tied"
	ExposureUnknown    fact.Code = "exposure_unknown_for_zero_point"
	FewUnsaturated     fact.Code = "few_unsaturated_of_catalogue" // stars, needed
	MagnitudesDisagree fact.Code = "catalogue_magnitudes_disagree"
	SkyNotAbove        fact.Code = "sky_not_above_offset"
	NoiseOrWidth       fact.Code = "noise_or_width_unknown"
	NoiseUnknown       fact.Code = "noise_unknown_for_limit"
)
