package say

import (
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/worth"
)

// cameraWarnings are the words of what is wrong with calibration frames and cameras,
// each with its remedy.
var cameraWarnings = map[fact.Code]string{
	stack.LevelsOff:       "{files}: the level is off the others'; left out of the master and the figures. Throw away the first frames of a series, and check for stray light",
	stack.UnreadLeftOut:   "left out, cannot be read: {file}",
	stack.CopiesLeftOut:   "{frames #frame} left out, the same pixels as another: {files}",
	stack.CombinedLeftOut: "{files}: far less noise than the others: combined from several, no raw frame; left out",

	sensor.BiasOffSetPoint: "the sensor was at {from_c %.1f} to {to_c %.1f} °C, {off_c %+.1f} °C off its set point: its figures are not those of a cooled sensor; shoot bias frames with the cooler on",
	sensor.OffsetLow:       "offset too low: {cut_pct %.2g} % of pixels are cut at 0; raise the offset setting until the level is above {enough_adu %.0f} ADU",
	sensor.BiasExposed:     "these bias frames were exposed for {exposure_s %g} s: a bias is the shortest exposure there is",
	sensor.TelegraphNoise:  "{noisy_pct %.1f} % of the pixels are noisy (telegraph noise): dither and reject outliers when stacking",
	sensor.LevelDrifts:     "the level drifts by {adu_per_frame %+.3g} ADU a frame: let the camera settle before the series",

	sensor.DarksOffSetPoint: "the sensor was {off_c %+.1f} °C off its set temperature: the cooler did not reach it; choose a higher one",
	sensor.TemperatureMoved: "the sensor's temperature moved by {rms_c %.1f} °C rms during the darks: wait until it is steady",
	sensor.DarkGradient:     "the dark signal is uneven ({uneven_pct %.0f} %, gradient across the frame): check for a light leak; cover the telescope and shoot at night",
	sensor.DarkDrift:        "the dark signal is uneven ({uneven_pct %.0f} %, level drifts by {drift_adu %+.2g} ADU over the set): check for a light leak; cover the telescope and shoot at night",
	sensor.BiasUnfit:        "{reason}",
	sensor.NoBias:           "no bias frames with the darks' settings: shoot twenty to tell dark current from offset",
	sensor.GlowSeen:         "glow ({place}), {height_adu %.3g} ADU above the floor",
	sensor.SubtractedBefore: "{frames #frame} left out: their headers say that a dark was taken off already",

	sensor.FlatsOffSetPoint: "the sensor was at {from_c %.1f} to {to_c %.1f} °C, {off_c %+.1f} °C off its set point: harmless unless the flats are long; check the cooler",
	sensor.FlatsBright:      "flats at {level_pct %.0f} % of saturation are too bright to be surely linear: shorten the exposure to reach 30 to 60 %",
	sensor.FlatsFaint:       "flats at {level_pct %.0f} % of saturation hold little light: expose for 30 to 60 %",
	sensor.FlatsSaturated:   "{saturated_pct %.2g} % of the flats' samples are saturated",
	sensor.FlatsNoOffset:    "no bias and no darks to take off the flats: the master flat corrects too little; shoot bias frames with the flats' gain and offset",
	sensor.LightFlickers:    "the light flickers by {flicker_pct %.1f} % from flat to flat: use longer exposures or a steadier lamp",
	sensor.FlatsFew:         "the master flat's signal to noise is {snr %.0f} a pixel: {flats #flat} as bright as these, or fewer brighter ones, would bring it to 500",
	sensor.FlatsUnlit:       "{unlit_pct %.1f} % of the pixels get no light: overscan that the headers do not declare (TRIMSEC would), or outside the image circle; left out of the subs",
	sensor.ShutterLeftOut: "flats of {shortest_s %g} s are off in shape by {off_pct %.2g} % against those of {longest_s %g} s, as a mechanical shutter makes them that opens parts of the frame for {travel_ms %.0f} ms longer:" +
		" {flats #flat} of under {enough_s %.2g} s left out of the master",
	sensor.ShutterTravels: "flats of {shortest_s %g} s are off in shape by {off_pct %.2g} % against those of {longest_s %g} s, as a mechanical shutter makes them that opens parts of the frame for {travel_ms %.0f} ms longer:" +
		" the master, and what it corrects, is off by {master_pct %.2g} %; shoot flats of {enough_s %.2g} s or more",
	sensor.FlatsOfTwoShapes: "flats of {shortest_s %g} s and of {longest_s %g} s differ in shape by {off_pct %.2g} %: a mechanical shutter's travel would do it, or {like}; long flats of one exposure tell",
	sensor.FlatDark:         "{file}: no light above the offset; left out of the master",
	sensor.FlatSaturated:    "{file}: saturated; left out of the master",
	sensor.FlatsBanded:      "banded by a flickering lamp: {files}; use longer exposures",
	sensor.FlatsAlternate: "alternate rows differ by up to {share_pct %.2g} %, another amount in each of {flats #flat}: the read-out or a flickering light does it," +
		" and no flat removes it from the subs; gain and non-uniformity leave it out; shoot more flats, longer ones",
	sensor.DustUnmatched: "{finding @}; " + newFlats,

	sensor.HeaderGainOff: "the header claims {header %.4g} e-/ADU, the flats give {measured %.4g}: go by the measured one",
	sensor.HeaderGainSteps: "the header claims {header %.4g} e-/ADU, and samples come in steps of {step_adu %.0f} ADU: if the claim is for a step, all in electrons here is {step_adu %.0f} times too high;" +
		" two flats and two bias frames tell",
	sensor.HeaderGainOfStep: "the header claims {header %.4g} e-/ADU, and samples come in steps of {step_adu %.0f} ADU: by the subs' noise the claim is for a step, and {e_per_adu %.4g} e-/ADU is used;" +
		" two flats and two bias frames would measure it",
	sensor.CurveOff: "the slope of the transfer curve gives {slope %.4g} e-/ADU, pairs at single levels {measured %.4g}:" +
		" the offset taken off the flats may be wrong, or their light unsteady",
	sensor.CurveBends: "the slope of the transfer curve gives {slope %.4g} e-/ADU, the gain is {measured %.4g}:" +
		" the curve bends: of bright flats the variance lies {low_pct %.1f} % low",
	sensor.OffsetMoved: "darks at {temp_c %.1f} °C: at zero exposure their level is {off_adu %+.2f} ADU off the bias:" +
		" the offset moved between bias and darks, or light leaks in; shoot both in one session, in the dark",
	sensor.DarksNotStraight: "darks at {temp_c %.1f} °C: the level does not grow in step with the exposure (scatter {scatter_adu %.2f} ADU):" +
		" the offset or the temperature moved; let the camera settle",
	sensor.NoiseBelieved: "darks at {temp_c %.1f} °C: their level grows by {level_adu_per_s %.2g} ADU/s, but their noise tells {noise_adu_per_s %.2g} ADU/s of dark current:" +
		" the camera takes a black level off, or the offset moved; the noise is believed",
	sensor.DarksSlow: "darks of several temperatures: what they gather doubles every {doubling_c %.0f} °C, and silicon's dark current does every {slowest_c %.0f} °C or less:" +
		" light leaks in, or the sensor glows all over; cover the camera, shoot in the dark and compare, and leave these darks out until then",
	sensor.DarksStraight: "straight in time: {adu_per_s %.4g} ADU/s over {exposures #exposure}, {zero_adu %+.2f} ADU at zero exposure",
}

// figureNotes are the words of how the figures of a camera were measured, and of what
// they were made with. One that begins with a comma goes on with the one before.
var figureNotes = map[fact.Code]string{
	sensor.SingleFrame:   "{reason}",
	sensor.FirstPlane:    "{plane} {adu %.2f}",
	sensor.NextPlane:     ", {plane} {adu %.2f}",
	sensor.CutMadeUp:     "{cut_pct %.2g} % of the samples are cut at 0: what that takes from the noise is made up for",
	sensor.WithSteps:     "{adu %.4g} ADU with quantisation",
	sensor.StepsHide:     "an upper limit: {adu %.2g} ADU with quantisation, under half a sample step, which tells no more",
	sensor.UpperLimit:    "an upper limit",
	sensor.OnePixelIn100: "one pixel in a hundred is noisier; were all pixels alike, it would equal the median",
	sensor.NoisyAbove:    "noise above {adu %.3g} ADU",
	sensor.BandingParts:  "{lines}: {fixed_adu %.2g} ADU stay from frame to frame, {changing_adu %.2g} ADU change; white noise is 1",
	sensor.SamplesAtZero: "samples at 0",
	sensor.OffsetByTemp:  "{adu_per_c %+.3g} ADU per °C of the sensor",
	sensor.OutlierFrame:  "{file} ({off_adu %+.1f} ADU)",
	sensor.MasterNoiseAt: "mean of the set's frames; of 10 frames {adu_10 %.2g}, 20 frames {adu_20 %.2g}, 50 frames {adu_50 %.2g}, 100 frames {adu_100 %.2g}," +
		" 200 frames {adu_200 %.2g}, 500 frames {adu_500 %.2g}, 1000 frames {adu_1000 %.2g}",
	sensor.ScaledSamples: "{bits %.0f}-bit samples scaled to 16 bits",

	sensor.GainMeasured:   "by the measured {e_per_adu %.4g} e-/ADU",
	sensor.GainRemembered: "by {e_per_adu %.4g} e-/ADU, of the night of {night}",
	sensor.GainOfHeader:   "by the header's {e_per_adu %.4g} e-/ADU",
	sensor.OfNight:        "of the night of {night}",
	sensor.DaysBefore:     ", {days #day} before",
	sensor.NoiseByDarks:   "what the darks' noise is beyond their dark current's",
	sensor.OfHeader:       "the header's, not measured",

	sensor.DarkMinusBias:   "dark minus bias",
	sensor.SlopeAlone:      "slope in time over {exposures #exposure}: there is no bias",
	sensor.SlopeBiasOut:    "slope in time over {exposures #exposure}, the bias left out: it lies {off_adu %+.2g} ADU off",
	sensor.SlopeWithBias:   "slope in time over {exposures #exposure} and the bias",
	sensor.ByNoise:         "by the noise: the level tells {level_adu_per_s %.2g} ADU/s",
	sensor.EvenLight:       "light that leaks in evenly would be in it: darks of two temperatures would tell",
	sensor.HardlyGrows:     "no dark current alone: it hardly grows with temperature",
	sensor.BiasWarmer:      "the bias is {gap_c %.0f} °C off in temperature",
	sensor.WhateverOffset:  "by how much noisier darks are than bias frames, whatever the offset; all pixels that are not hot",
	sensor.InterceptOfBias: "level at zero exposure above the bias: 0 where the offset kept",
	sensor.InterceptAlone:  "level at zero exposure: the offset, as there is no bias",
	sensor.MeanRate:        "mean {adu_per_s %.3g}",
	sensor.HotByShot:       "above shot noise above the read noise, in most frames",
	sensor.HotBySigma:      "above {sigma %g} robust sigma, in most frames",
	sensor.HotOneByShot:    "above shot noise above the read noise; one frame: particle hits count too",
	sensor.HotOneBySigma:   "above {sigma %g} robust sigma; one frame: particle hits count too",
	sensor.ColdPixels:      "{pixels #pixel} as far below the median: so many of those above jump (telegraph noise) and are not counted",
	sensor.AboveByShot:     "above the median; shot noise above the read noise",
	sensor.AboveBySigma:    "above the median; {sigma %g} robust sigma",
	sensor.HotLeftOut:      "hot pixels left out",
	sensor.GlowPlace:       "{place}; the median of a square of {cell_px %.0f} px, what peaks within it is higher",
	sensor.GlowHighest:     "where it is highest",
	sensor.LowerLeft:       "lower left corner",
	sensor.LowerRight:      "lower right corner",
	sensor.UpperLeft:       "upper left corner",
	sensor.UpperRight:      "upper right corner",
	sensor.Left:            "left edge",
	sensor.Right:           "right edge",
	sensor.Lower:           "lower edge",
	sensor.Upper:           "upper edge",
	sensor.Inside:          "inside the frame",
	sensor.ShapeBends:      "a response that bends",
	sensor.ShapeMoves:      "a gradient of the light that moves, as twilight's does",
	sensor.LeakGradient:    "gradient across the frame",
	sensor.LeakDrift:       "level drifts by {drift_adu %+.2g} ADU over the set, temperature apart",
	sensor.SensorMinusSet:  "sensor minus set",
	sensor.AboutMean:       "about the mean",

	sensor.LevelOf:             "{level_adu %.0f} of {saturation_adu %.0f} ADU",
	sensor.LevelsFromTo:        "from {from_adu %.0f} to {to_adu %.0f} ADU, the master of {flats #flat}",
	sensor.GainByPairs:         "two flats and two bias frames; offset from {offset_from}",
	sensor.GainByFlats:         "two flats; offset from {offset_from}, read noise of up to what that bears",
	sensor.OffsetOfBias:        "bias",
	sensor.OffsetOfMasterBias:  "a master bias",
	sensor.OffsetOfFlatDarks:   "darks of the same exposure",
	sensor.OffsetOfFlatDark:    "a master dark of the same exposure",
	sensor.OffsetOfLongerDarks: "bias, and darks of {exposure_s =} s by their share of it",
	sensor.OffsetOfDarks:       "darks of {exposure_s =} s in place of bias frames",
	sensor.OffsetOfMasterDark:  "a master dark of {exposure_s =} s in place of bias frames",
	sensor.DarkInFlats:         "what dark signal {exposure_s =} s gather is in it: no darks tell how much, darks of that exposure would take it off",
	sensor.NoDeadPixels:        "no dead pixels",
	sensor.DeadPixels:          "{pixels #dead pixel} with less than half the light of their surroundings, at {x %.0f},{y %.0f}",
	sensor.DeadPixelAt:         "{x %.0f},{y %.0f}",
	sensor.AndMore:             "and {more %.0f} more",
	sensor.Corners:             "lower left {lower_left_pct %.1f}, lower right {lower_right_pct %.1f}, upper left {upper_left_pct %.1f}, upper right {upper_right_pct %.1f}",
	sensor.FlatsDrift:          "level drifts by {drift_pct %+.2g} % over the set",
	sensor.OfMasterPixel:       "a pixel of the master",
	sensor.ShadowAt:            "at {x %.0f},{y %.0f} {diameter_px %.0f} px wide {depth_pct %.1f} % deep",
	sensor.ShadowSeatedAt:      "at {x %.0f},{y %.0f} {diameter_px %.0f} px wide {depth_pct %.1f} % deep on the {on}",
	sensor.DustUntold:          "whether dust moved before the subs cannot be told: {reason}",

	sensor.GainAgainst:     "measured {measured %.4g}, header {header %.4g}; the measured one is used",
	sensor.GainHeaderMute:  "measured; the header is silent",
	sensor.NotThisTime:     "not measured this time: {reason}",
	sensor.GainOnlyHeader:  "the header's; not measured: {reason}",
	sensor.GainBright:      "all flats lie above {from_pct %.0f} % of saturation, where the sensor need not be linear",
	sensor.GainOneLevel:    "the response is taken for linear: flats of one level do not show a bend, which would make the gain too high; a second set at half the light would",
	sensor.GainUnbent:      "the response bends: the noise for the light falls by {falls_pct %.2g} % up to the brightest flats, and the gain is that carried to no light",
	sensor.CurveGives:      "slope of the transfer curve gives {e_per_adu %.4g}, its intercept is {intercept_adu2 ±} ADU²",
	sensor.CurveFalls:      ", towards saturation it falls {low_pct ±} % below the line",
	sensor.WellByCurve:     "where the transfer curve bends",
	sensor.WellByEnd:       "where samples saturate, less the offset; no transfer curve bends below, so the sensor's own well may be deeper",
	sensor.SaturationPile:  "samples of {set} pile up there",
	sensor.SaturationFlats: "samples of flats pile up there",
	sensor.SaturationStep:  "by the step between samples: {bits %.0f}-bit samples scaled to 16 bits",
	sensor.SaturationClaim: "by the bits that the headers claim; no sample is seen to reach it",
	sensor.FromLine:        "mean deviation from the line of level against exposure",
	sensor.LawBasis:        "at {mid_c %.1f} °C, from {temperatures #temperature}",
	sensor.LawExact:        "at {mid_c %.1f} °C, from {temperatures #temperature}: exact, no check",
	sensor.MeasuredAt:      "measured at {temp_c %.1f} °C",
	sensor.InterpolatedTo:  "interpolated to {temp_c %.1f} °C",
	sensor.ExtrapolatedTo:  "extrapolated to {temp_c %.1f} °C",
	worth.BenefitFor:       "{group}",
	sensor.ByOldLaw:        "by the temperature law of the night of {night}",
}

// Note is how a figure was measured, and with what.
func Note(all []fact.Fact) string {
	var b strings.Builder
	for _, f := range all {
		words := Fact(f)
		if b.Len() > 0 && !strings.HasPrefix(words, ",") {
			b.WriteString("; ")
		}
		b.WriteString(words)
	}
	return b.String()
}

// SetWarnings are what is wrong with a set of calibration frames, or a camera.
func SetWarnings(s *sensor.Set) []string { return each(s.Warnings) }
