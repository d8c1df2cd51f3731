package say

import (
	"fmt"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
)

// filePhrases are the words of what is odd about a file, and what was made of it.
var filePhrases = map[fact.Code]string{
	frames.ChecksumStale:   "the file does not fit its CHECKSUM: its header, and perhaps its pixels, were changed or damaged after it was written",
	frames.PaddingMissing:  "{bytes #byte} of padding at the end {bytes ?is:are} missing; the image is complete",
	frames.ShapeTwice:      "{key} is given twice, as {value} and as {other}: the first is taken, and the pixels may be wrong",
	frames.ScalingUnusable: "{key} is not a usable number ({value}): taken as {taken %g}",
	frames.ScaleZero:       "BSCALE is 0: taken as 1",
	frames.BlankOfFloats:   "BLANK does not apply to floating-point samples: ignored",
	frames.BlankUnusable:   "BLANK is not a whole number ({value}): ignored",
	frames.SectionUnread:   "{key} cannot be read ({value}): ignored",
	frames.SectionOutside:  "{key} {value} reaches outside the image of {width_px %.0f} x {height_px %.0f}: taken as trimmed already",
	frames.Trimmed:         "trimmed to {width_px %.0f} x {height_px %.0f} of {stored_width_px %.0f} x {stored_height_px %.0f} pixels by the header's section",
	frames.ZeroIgnored:     "floating-point samples with BZERO 32768, but those of this camera are physical already: BZERO ignored",
	frames.ZeroLost:        "samples of 16 bits far below zero, without BZERO: it was lost, and is taken as 32768",
	frames.Divided:         "samples from 0 to 1 that are whole numbers divided by {by %.0f}: read as those",
	frames.MosaicUnclaimed: "the pixels show a colour mosaic that the header does not mention: taken as {pattern} (red and blue may be exchanged)",
	frames.MosaicOther: "the header says colour pattern {claimed}, the pixels show {green_first ?green:no green} at the first pixel:" +
		" taken as {pattern} (red and blue may be exchanged)",
	frames.SharedNoise: "neighbouring pixels share their noise: aligned or interpolated, no raw frame; calibration is not applied to it",

	frames.CardTwice:        "{key} stands more than once with different values: the first, {value}, is taken",
	frames.CardNoNumber:     "{key} is not a number: {value}",
	frames.CardSenseless:    "{key} = {number %g} makes no sense: ignored",
	frames.CardNoDate:       "{key} is no date: {value}",
	frames.CardNoTime:       "{key} has a date but no time of day: start unknown",
	frames.NoRightAscension: "{key} is no right ascension: {value}",
	frames.BareHours:        "{key} is a number without a unit: {value} is taken for hours",
	frames.NoDeclination:    "{key} is no declination: {value}",
	frames.NoLatitude:       "{key} is no latitude: {value}",
	frames.NoLongitude:      "{key} is no longitude: {value}",
	frames.PointingUnset:    "the pointing's coordinates are both 0: taken as not set",
	frames.SiteUnset:        "the site's coordinates are both 0: taken as not set",
	frames.GainOfWhole:      "samples are parts of 1: the header's electrons per ADU are not theirs, and left out",
	frames.GainFraction:     "GAIN = {gain %g} has a fraction: taken as electrons per ADU, not as the camera's gain setting",
	frames.Kelvin:           "{key} = {number %g} can only be kelvin: taken as {temp_c %.1f} °C",

	frames.DayOrMonth:       "the date can be read with day or month first: taken as {date >2 January 2006}",
	frames.ZoneAmbiguous:    "{key} has the zone {zone}, which stands for several or is not known here: taken as local time",
	frames.LocalAsItStands:  "the start is given in local time and no card tells the zone: taken as it stands",
	frames.ExposureInMS:     "{key} = {number %g} without a unit is taken for milliseconds, {exposure_s =} s: in seconds the camera's exposures would overlap",
	frames.LocalByLongitude: "the start is given in local time and no card tells the zone: taken as {zone} by the site's longitude; with summer time all is an hour earlier",
	frames.LocalInZone:      "the start is given in local time: taken as {zone}",
	frames.LocalByUTC:       "DATE-OBS is local time: {key} tells UTC, {hours %g} h off",

	frames.KindByHeader: "the header says {header}, the name says {name}: taken as a {header}",
	frames.KindByName:   `the header says "{header}", the name says {name}: taken as a {name}`,
	frames.KindOpen:     `the header says "{header}", the name says {name}, and there are stars: taken as neither`,
	frames.BiasLong:     "a bias of {exposure_s =} s: longer than any bias",
	frames.BiasStarry:   "a bias with starlight",
	frames.DarkStarry:   "a dark with starlight",
	frames.DarkBright:   "a dark as bright as a flat",
	frames.DarkIsBias:   "a dark of {exposure_s =} s: it is a bias, and used as one",
	frames.DarkAsBias:   "a dark of {exposure_s =} s: used as a bias, of which there are none",
	frames.FlatStarry:   "a flat that is dim and has stars",
	frames.LightFlat:    "a light as bright and even as a flat, without stars",
	frames.LightUnlit:   "a light without light: no star, and no brighter than {than}",
	frames.CalledOther:  "called a {kind}, and as long, as dim and as starry as the subs: taken as neither",
	frames.EvenUnnamed:  "nothing names it, and it shows even light without stars: taken as neither a flat nor a sub",

	frames.SettingsByName: "the header is silent: {settings} by the file's name",
	frames.FilterByName:   "the header names no filter: the one by the name of file or folder is taken",
	frames.CameraBySize:   "the header names no camera: taken for {camera}, the only one of its size",

	frames.BadPixelMap:       "{files #bad-pixel map}",
	frames.EmptyImage:        "{files #empty image}",
	frames.ColourPreview:     "{files #colour preview}",
	frames.Spectrum:          "{files =} {files ?spectrum:spectra}",
	frames.SpectrumOfOneAxis: "{files =} {files ?spectrum:spectra} of one axis",
	frames.FinishedStack:     "{files #finished stack}",
	frames.CutFromSub:        "{files #crop}",
}

// OfFile is what is odd about a file.
func OfFile(f *frames.Frame) []string { return each(f.Findings) }

var kindNouns = map[frames.Kind]string{frames.Light: "sub", frames.Bias: "bias frame", frames.Dark: "dark", frames.Flat: "flat"}

// OfFiles is what is odd about files: those that are odd alike in one line, with their
// number and an example.
func OfFiles(all []night.OddFiles) []string {
	var lines []string
	for _, o := range all {
		if o.Files == 1 {
			lines = append(lines, o.First+": "+Fact(o.Finding))
			continue
		}
		noun := kindNouns[o.Kind]
		if noun == "" {
			noun = "file"
		}
		lines = append(lines, fmt.Sprintf("%s: %s (in %s)", fact.Plural(o.Files, noun), Fact(o.Finding), frames.Printable(o.First)))
	}
	return lines
}
