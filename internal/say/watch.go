package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// Arrived is one sub of a night that is watched, in one line: when it began, filter and number, what was
// measured, and the verdict as far as the night has come.
func Arrived(s night.Seen, local night.LocalTime) string {
	head := fmt.Sprintf("%s %s %03d: ", clockTime(s.Start, local), named(string(s.Filter), "no filter"), s.Number)
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

// clockTime is local where that is known, else UTC, and says so.
func clockTime(t time.Time, local night.LocalTime) string {
	switch {
	case t.IsZero():
		return "--:--"
	case local.Known:
		return t.Add(local.Ahead).UTC().Format("15:04")
	}
	return t.UTC().Format("15:04 UTC")
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
	if over := 100 * (f.V/s.Baseline.FWHM - 1); !math.IsNaN(over) && !math.IsInf(over, 0) {
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

// The words of alarms; package watch finds what there is to tell.

// FocusLeaves tells of a drift of the focus.
func FocusLeaves(d *subs.FocusDrift, local night.LocalTime) string {
	return fmt.Sprintf("focus is leaving since %s, stars are %.0f %% wider: focus again", clockTime(d.Since, local), 100*(d.Widened-1))
}

// SoftNow tells of a sub that is soft already.
func SoftNow(s *subs.Sub) string { return "stars are soft, look at the focus: " + Sub(s) }

// BeginsSoft tells of a filter whose first stars are wider by a factor than those through
// others before.
func BeginsSoft(wider float64, filter names.Name) string {
	return fmt.Sprintf("stars are %.0f %% wider than through other filters before: look at the focus of %s", 100*(wider-1), named(string(filter), "this filter"))
}

// spoilers are what alarms call the leading cause of a sub's verdict.
var spoilers = map[subs.Cause]string{
	subs.Cloud: "cloud or haze", subs.Haze: "cloud or haze", subs.FewStars: "cloud or haze", subs.NoStars: "cloud or haze",
	subs.Dewed: "dew", subs.Obstructed: "something is in front of the field",
	subs.BrightSky: "the sky is too bright for this exposure", subs.Moonlit: "the sky is too bright for this exposure", subs.Twilight: "the sky is too bright for this exposure",
	subs.Trailed: "trailed stars",
}

// SpoiledNow tells what spoils a sub before all else.
func SpoiledNow(s *subs.Sub) string {
	what := spoilers[s.Causes[0]]
	if s.Causes[0] == subs.Trailed && s.Field.Double.Is() {
		what = "doubled stars"
	}
	return what + ": " + Sub(s)
}

// NotDarkYet tells of the Sun, at an altitude in degrees.
func NotDarkYet(sun float64) string {
	return fmt.Sprintf("the sky is not dark yet, the Sun at %.0f°: twilight is good for flats", sun)
}

// OffSetPoint tells of a sensor that is so many °C warmer than it was told to be.
func OffSetPoint(sensor, off float64) string {
	return fmt.Sprintf("the sensor is at %.1f °C, %+.1f °C off its set point", sensor, off)
}

// SkyFills tells of a sky that takes a share of the camera's range.
func SkyFills(share float64) string {
	return fmt.Sprintf("the sky alone fills %.0f %% of the camera's range: expose shorter", 100*share)
}

// StarsSaturated tells of stars that are saturated.
func StarsSaturated(n, of int) string {
	return fmt.Sprintf("%d of %d stars are saturated: expose shorter", n, of)
}

// TwilightNears tells of dawn, and how many exposures there is time for.
func TwilightNears(dawn time.Time, local night.LocalTime, left time.Duration, exposures int) string {
	return fmt.Sprintf("twilight begins at %s, in %.0f min: time for %d more exposures", clockTime(dawn, local), left.Minutes(), exposures)
}

// NoFrames tells that none came since a while.
func NoFrames(since, exposure time.Duration) string {
	return fmt.Sprintf("no new frame for %.0f min, exposures are of %.0f s", since.Minutes(), exposure.Seconds())
}

// DiskFull tells how many bytes are left, for frames of that size; 0 where that is not known.
func DiskFull(free, frame int64) string {
	words := fmt.Sprintf("the disk is nearly full: %d MiB are left", free>>20)
	if frame > 0 {
		words += ", for " + fact.Plural(int(free/frame), "frame")
	}
	return words
}
