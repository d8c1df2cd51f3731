package sky

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words.
const (
	TimeUnknown        fact.Code = "time_of_sub_unknown"
	SiteUnknown        fact.Code = "site_unknown"
	CoordinatesUnknown fact.Code = "target_coordinates_unknown"
	TargetDown         fact.Code = "target_below_horizon"
	TimesNotTrue       fact.Code = "times_or_site_impossible" // impossible, starry, example
	ClaimsNotTrue      fact.Code = "claims_contradict_times"  // wrong, file, claim, off_deg
	PlaceDisputed      fact.Code = "place_disputed"
	SunUp              fact.Code = "sun_up_at"       // time, sun_deg
	TargetBelow        fact.Code = "target_below_at" // time, below_deg
)
