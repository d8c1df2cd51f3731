package say

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/ahead"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// The words of the plan of the coming nights, with times of the zone that is given.

// Unplaced is why a target is not planned.
const Unplaced = "where it stands is not known: no sub in the ledger has its pointing, and its goal no ra_deg and dec_deg"

// Outlook is what the plan rests on, what it leaves out, and what was assumed for want
// of figures, once each.
func Outlook(o ahead.Outlook) []string {
	texts := []string{fmt.Sprintf("Site %.2f, %.2f; times of %s. Each night as if it were the next clear one.", o.Site.Lat, o.Site.Lon, zoneName(o.Zone))}
	for _, target := range o.Unplaced {
		texts = append(texts, "Left out: "+frames.Printable(string(target))+": "+Unplaced+".")
	}
	var assumed, broad []string
	for _, target := range o.Targets {
		for _, f := range target.Filters {
			name := frames.Printable(string(target.Name + " " + f.Name))
			if f.Sky.Nights == 0 {
				assumed = append(assumed, name)
			}
			if !f.Known {
				broad = append(broad, name)
			}
		}
	}
	if len(assumed) > 0 {
		texts = append(texts, fmt.Sprintf("Sky not measured in magnitudes, %.0f mag/arcsec² assumed: %s.", ahead.AssumedMag, strings.Join(assumed, ", ")))
	}
	if len(broad) > 0 {
		texts = append(texts, "Wavelength not known, taken for a broad band: "+strings.Join(broad, ", ")+".")
	}
	return texts
}

// zoneName is how a zone is called; the machine's own has no name but its offset.
func zoneName(zone *time.Location) string {
	if zone == time.Local {
		return "this machine's time zone"
	}
	return zone.String()
}

// ZoneTime is a time of day.
func ZoneTime(at time.Time, zone *time.Location) string { return at.In(zone).Format("15:04") }

// ZoneSpan is from one time of day to another.
func ZoneSpan(s sky.Span, zone *time.Location) string {
	return ZoneTime(s.Start, zone) + " to " + ZoneTime(s.End, zone)
}

// Evening names a night, and the zone's distance from UTC in it, both where it changes.
func Evening(n ahead.Night, zone *time.Location) string {
	evening, _ := time.Parse(time.DateOnly, n.Date)
	first, last := n.Sun.Start.In(zone).Format("-07:00"), n.Sun.End.In(zone).Format("-07:00")
	offset := "UTC" + first
	if n.Sun.Hours() != 0 && first != last {
		offset += ", UTC" + last + " in the morning: the clock changes"
	}
	return fmt.Sprintf("%s, %s (%s)", evening.Format("Monday"), n.Date, offset)
}

// Darkness tells when a night is dark, and of the Moon.
func Darkness(n ahead.Night, zone *time.Location) string {
	if n.DarkHours == 0 {
		return fmt.Sprintf("Not dark: the Sun does not sink to -12°. Moon %.0f %% lit.", n.MoonLit)
	}
	dark := ZoneSpan(n.Dark, zone) + " (" + ZoneSpan(n.Dark, time.UTC) + " UTC)"
	if n.Nautical {
		return fmt.Sprintf("No full darkness: the Sun is below -12° from %s; %s", dark, moonOf(n, zone))
	}
	return fmt.Sprintf("Dark from %s, %.1f h; %s", dark, n.DarkHours, moonOf(n, zone))
}

func moonOf(n ahead.Night, zone *time.Location) string {
	text := fmt.Sprintf("Moon %.0f %% lit", n.MoonLit)
	ups := slices.DeleteFunc(slices.Clone(n.MoonUp), func(s sky.Span) bool { return s.End.Sub(s.Start) < time.Minute })
	switch {
	case len(ups) == 0:
		return text + ", down all the time."
	case n.Moonless < 0.05:
		return text + ", up all the time."
	}
	for i, s := range ups {
		text += map[bool]string{true: ", up ", false: " and "}[i == 0] + ZoneSpan(s, zone)
	}
	return text + fmt.Sprintf(": %.1f h without it.", n.Moonless)
}

// idlePhrases are why a night has nothing to shoot.
var idlePhrases = map[fact.Code]string{
	ahead.NothingWanted: "nothing that is known lacks any time",
	ahead.NoneHigh:      "no target stands above {altitude_deg %.0f}°",
	ahead.SkyTooBright:  "by the Moon and the air in between an hour gives less than {least %.1f} clear h through every filter",
	ahead.TooShort:      "what is left is too short to be worth the way there",
}

// Idle is why a night has nothing to shoot; "" where it has.
func Idle(n ahead.Night, opt ahead.Options) string {
	if n.Idle == "" {
		return ""
	}
	return "Nothing to shoot: " + Fact(fact.Of(n.Idle, fact.Number("altitude_deg", opt.MinAltitude), fact.Number("least", ahead.LeastSpeed))) + "."
}

// TableOfTargets is what the columns of the nights' tables mean.
const TableOfTargets = "In the tables: hours above that altitude and without the Moon, highest altitude and airmass then, when the meridian is crossed, distance of the Moon."

// Block is what to shoot in a stretch of a night, and what it gives.
func Block(b ahead.Block, zone *time.Location) string {
	text := fmt.Sprintf("%s  %s %s", ZoneSpan(b.Span, zone), frames.Printable(string(b.Target)), frames.Printable(string(b.Filter)))
	if !math.IsNaN(b.Exposure) {
		text += fmt.Sprintf(", %g s", stats.Significant(b.Exposure, 4))
	}
	if b.Asked > b.Exposure {
		text += fmt.Sprintf(" (%g s if those hold)", stats.Significant(b.Asked, 4))
	}
	text += fmt.Sprintf(": sky %.1f ± %.1f mag/arcsec²", b.SkyMag, b.SkyMagErr)
	if b.Moon {
		text += " under the Moon"
	}
	text += fmt.Sprintf(", an hour gives %.1f clear h", b.Speed)
	if !b.Flip.IsZero() {
		text += ", flip at " + ZoneTime(b.Flip, zone)
	}
	if !math.IsInf(b.StillHours, 1) {
		text += fmt.Sprintf("; %.1f clear h still needed", b.StillHours)
	}
	return text + "."
}

// BlockTitle is what to shoot, in a few words.
func BlockTitle(b ahead.Block) string {
	if math.IsNaN(b.Exposure) {
		return fmt.Sprintf("%s %s", b.Target, b.Filter)
	}
	return fmt.Sprintf("%s %s %g s", b.Target, b.Filter, stats.Significant(b.Exposure, 4))
}

// BlockOutlook is the sky that is expected for it.
func BlockOutlook(b ahead.Block, zone *time.Location) string {
	text := fmt.Sprintf("Sky %.1f ± %.1f mag per square arcsecond; an hour gives %.1f clear hours.", b.SkyMag, b.SkyMagErr, b.Speed)
	if !b.Flip.IsZero() {
		text += " Meridian flip at " + ZoneTime(b.Flip, zone) + "."
	}
	return text
}
