package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
	"fitsqa/internal/watch"
)

// Arrived is one sub of a night that is watched, in one line: when it began, filter and number, what was
// measured, and the verdict as far as the night has come.
func Arrived(s night.Seen, local night.LocalTime) string {
	head := fmt.Sprintf("%s %s %03d: ", local.Clock(s.Start), named(string(s.Filter), "no filter"), s.Number)
	if s.Field == nil {
		return head + fmt.Sprintf("%s, %s: %s", frames.Printable(s.File), s.Verdict, frames.Printable(s.ReadErr))
	}
	parts := []string{fmt.Sprintf("stars %d", s.Field.Count)}
	if size := sizeOf(s); size != "" {
		parts = append([]string{size}, parts...)
	}
	if t := s.Transparency.Ratio; t.OK() {
		parts = append(parts, fmt.Sprintf("transparency %.2f", t.V))
	}
	verdict := string(s.Verdict)
	if why := Sub(s.Sub); s.Verdict != subs.Keep && why != "" {
		verdict += ": " + why
	}
	return head + strings.Join(append(parts, frames.Printable(verdict)), ", ")
}

// sizeOf is the FWHM, with what it is above the baseline's; "" when not measured.
func sizeOf(s night.Seen) string {
	f := s.Field.FWHM
	if !f.OK() {
		return ""
	}
	size := fmt.Sprintf("FWHM %.1f px", f.V)
	if s.PixelScale > 0 {
		size = fmt.Sprintf("FWHM %.1f\"", f.V*s.PixelScale)
	}
	if over := math.Round(100*(f.V/s.Baseline.FWHM-1)) + 0; !math.IsNaN(over) && !math.IsInf(over, 0) {
		size += fmt.Sprintf(" (%+.0f %%)", over)
	}
	return size
}

func named(name, none string) string {
	if name == "" {
		return none
	}
	return frames.Printable(name)
}

// Alert is the sentence of one alert, safe to print.
func Alert(a watch.Alert) string {
	words := Fact(a.What)
	if a.Why != nil {
		words += ": " + Sub(a.Why)
	}
	return frames.Printable(words)
}

var alertPhrases = map[fact.Code]string{
	watch.StarsSoft:    "stars are soft, look at the focus",
	watch.CloudOrHaze:  "cloud or haze",
	watch.DewNow:       "dew",
	watch.InFront:      "something is in front of the field",
	watch.SkyTooBright: "the sky is too bright for this exposure",
	watch.StarsTrailed: "trailed stars",
	watch.StarsDoubled: "doubled stars",

	watch.FocusLeaves:       "focus is leaving since {since}, stars are {wider_pct %.0f} % wider: focus again",
	watch.BeginsSoft:        "stars are {wider_pct %.0f} % wider than through other filters before: look at the focus of {filter}",
	watch.UnnamedBeginsSoft: "stars are {wider_pct %.0f} % wider than through other filters before: look at the focus of this filter",
	watch.NotDarkYet:        "the sky is not dark yet, the Sun at {sun_deg %.0f}°: twilight is good for flats",
	watch.OffSetPoint:       "the sensor is at {sensor_c %.1f} °C, {off_c %+.1f} °C off its set point",
	watch.SkyFills:          "the sky alone fills {range_pct %.0f} % of the camera's range: expose shorter",
	watch.StarsSaturated:    "{saturated %.0f} of {stars #star} {saturated ?is:are} saturated: expose shorter",
	watch.TwilightNears:     "twilight begins at {dawn}, in {left_min %.0f} min: time for {exposures #more exposure}",
	watch.NoFrames:          "no new frame for {waited_min %.0f} min, exposures are of {exposure_s %.0f} s",
	watch.DiskFull:          "the disk is nearly full: {free_mib %.0f} MiB are left",
	watch.DiskFullFor:       "the disk is nearly full: {free_mib %.0f} MiB are left, for {frames #frame}",
}
