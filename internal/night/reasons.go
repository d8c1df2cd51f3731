package night

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words of each.
const (
	FileUnread      fact.Code = "file_not_read"
	SubUnmeasured   fact.Code = "sub_not_measured"
	SkyFillsRange   fact.Code = "sky_fills_range"
	SkyBelowOffset  fact.Code = "sky_below_offset" // below_adu
	GainUnknown     fact.Code = "gain_unknown"     // reason
	NotLookedFor    fact.Code = "place_not_looked_for"
	OthersNowhere   fact.Code = "other_fields_nowhere" // fields
	NoneOfTarget    fact.Code = "no_sub_of_target_found"
	FieldNotFound   fact.Code = "field_not_found"
	NoPixelSize     fact.Code = "no_pixel_size"
	NoPointing      fact.Code = "no_pointing"
	NoDeclination   fact.Code = "declination_not_told"
	AtPole          fact.Code = "target_at_pole"
	ExposureUnknown fact.Code = "exposure_not_known"
	NoOtherNight    fact.Code = "no_other_night_of_target"
	NoOtherOfSetup  fact.Code = "no_other_night_of_setup"
	NoiseOrScale    fact.Code = "noise_or_scale_unknown"
	NoWeightInGroup fact.Code = "no_weight_in_group"
	ScaleUnknown    fact.Code = "scale_unknown"
	NotOfReference  fact.Code = "not_stars_of_reference"
	NoSkyLevel      fact.Code = "no_sky_level"
	ReadFailed      fact.Code = "reading_failed" // error
	NoScaleInHeader fact.Code = "no_scale_in_header"
)
