package frames

import (
	"slices"

	"fitsqa/internal/fact"
)

// What is odd about a file, and what was made of it. Package say has the words of each.
const (
	// Of its bytes and its structure.
	ChecksumStale   fact.Code = "checksum_stale"   // the file was changed after it was written
	PaddingMissing  fact.Code = "padding_missing"  // bytes
	ShapeTwice      fact.Code = "shape_twice"      // key, value, other
	ScalingUnusable fact.Code = "scaling_unusable" // key, value, taken
	ScaleZero       fact.Code = "scale_zero"       // BSCALE
	BlankOfFloats   fact.Code = "blank_of_floats"  // FITS 4.0 section 4.4.2.5
	BlankUnusable   fact.Code = "blank_unusable"   // value
	SectionUnread   fact.Code = "section_unread"   // key, value
	SectionOutside  fact.Code = "section_outside"  // key, value, width_px, height_px
	Trimmed         fact.Code = "trimmed"          // width_px, height_px, stored_width_px, stored_height_px
	ZeroIgnored     fact.Code = "zero_ignored"     // BZERO
	ZeroLost        fact.Code = "zero_lost"        // BZERO
	Divided         fact.Code = "divided"          // by
	MosaicUnclaimed fact.Code = "mosaic_unclaimed" // pattern
	MosaicOther     fact.Code = "mosaic_other"     // claimed, green_first, pattern
	SharedNoise     fact.Code = "shared_noise"     // aligned or interpolated

	// Of its header's cards.
	CardTwice        fact.Code = "card_twice"         // key, value
	CardNoNumber     fact.Code = "card_no_number"     // key, value
	CardSenseless    fact.Code = "card_senseless"     // key, number
	CardNoDate       fact.Code = "card_no_date"       // key, value
	CardNoTime       fact.Code = "card_no_time"       // key
	NoRightAscension fact.Code = "no_right_ascension" // key, value
	BareHours        fact.Code = "bare_hours"         // key, value
	NoDeclination    fact.Code = "no_declination"     // key, value
	NoLatitude       fact.Code = "no_latitude"        // key, value
	NoLongitude      fact.Code = "no_longitude"       // key, value
	PointingUnset    fact.Code = "pointing_unset"     // 0, 0
	SiteUnset        fact.Code = "site_unset"         // 0, 0
	GainFraction     fact.Code = "gain_fraction"      // gain
	GainOfWhole      fact.Code = "gain_of_whole"      // samples are parts of 1
	Kelvin           fact.Code = "kelvin"             // key, number, temp_c

	// Of when it was shot.
	DayOrMonth       fact.Code = "day_or_month"       // date
	ZoneAmbiguous    fact.Code = "zone_ambiguous"     // key, zone
	LocalAsItStands  fact.Code = "local_as_it_stands" // no zone
	LocalByLongitude fact.Code = "local_by_longitude" // zone
	ExposureInMS     fact.Code = "exposure_in_ms"     // key, number, exposure_s
	LocalInZone      fact.Code = "local_in_zone"      // zone
	LocalByUTC       fact.Code = "local_by_utc"       // key, hours

	// Of what it is.
	KindByHeader fact.Code = "kind_by_header"  // header, name
	KindByName   fact.Code = "kind_by_name"    // header, name
	KindOpen     fact.Code = "kind_open"       // header, name; stars are in it
	BiasLong     fact.Code = "bias_long"       // exposure_s
	BiasStarry   fact.Code = "bias_starry"     // stars
	DarkStarry   fact.Code = "dark_starry"     // stars
	DarkBright   fact.Code = "dark_bright"     // as a flat
	DarkIsBias   fact.Code = "dark_is_bias"    // exposure_s
	DarkAsBias   fact.Code = "dark_as_bias"    // exposure_s
	FlatStarry   fact.Code = "flat_dim_starry" // stars
	LightFlat    fact.Code = "light_like_flat" // bright and even
	LightUnlit   fact.Code = "light_unlit"     // than
	EvenUnnamed  fact.Code = "even_unnamed"    // neither flat nor sub
	CalledOther  fact.Code = "called_other"    // kind; as starry and long as the subs

	// Of what the header does not tell.
	SettingsByName fact.Code = "settings_by_name" // settings
	FilterByName   fact.Code = "filter_by_name"   // of file or folder
	CameraBySize   fact.Code = "camera_by_size"   // camera
)

// What is no frame, and how many files are such.
const (
	BadPixelMap       fact.Code = "bad_pixel_map"        // files
	EmptyImage        fact.Code = "empty_image"          // files
	ColourPreview     fact.Code = "colour_preview"       // files
	Spectrum          fact.Code = "spectrum"             // files
	SpectrumOfOneAxis fact.Code = "spectrum_of_one_axis" // files
	FinishedStack     fact.Code = "finished_stack"       // files
	CutFromSub        fact.Code = "crop"                 // files
)

// warn notes what is odd about a file, once.
func (f *Frame) warn(code fact.Code, values ...fact.Value) {
	f.warnOf([]fact.Fact{fact.Of(code, values...)})
}

func (f *Frame) warnOf(all []fact.Fact) {
	for _, w := range all {
		if !slices.ContainsFunc(f.Findings, w.Is) {
			f.Findings = append(f.Findings, w)
		}
	}
}

// ofCard is what a keyword's card holds, safe to print.
func ofCard(key string, c card) []fact.Value {
	return []fact.Value{fact.Text("key", key), fact.Text("value", Printable(c.value))}
}

func exposureValue(s float64) fact.Value { return fact.Number("exposure_s", significantSeconds(s)) }
