package watch

import (
	"fmt"
	"math"
	"strings"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

// line is one sub in one line: when it began, filter and number, what was
// measured, and the verdict as far as the night has come.
func line(s night.Seen, local night.LocalTime) string {
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
	if why := say.Sub(s.Sub); s.Verdict != subs.Keep && why != "" {
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
