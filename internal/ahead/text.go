package ahead

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// Outlook is what the writers below show: the plan and what it rests on.
type Outlook struct {
	Site    *sky.Site
	Zone    *time.Location // of the times that people read
	Options Options
	Targets []Target
	Skipped []Skipped
	Nights  []Night
}

// Text writes the plan for people, at most 80 columns wide. Times are local,
// those of darkness in UTC as well.
func Text(w io.Writer, o Outlook) error {
	t := &textWriter{w: w, zone: o.Zone}
	t.wrapped(fmt.Sprintf("Site %.2f, %.2f; times of %s. Each night as if it were the next clear one.", o.Site.Lat, o.Site.Lon, zoneName(o.Zone)))
	for _, s := range o.Skipped {
		t.wrapped("Left out: " + frames.Printable(string(s.Target)) + ": " + s.Why + ".")
	}
	t.assumptions(o.Targets)
	for _, n := range o.Nights {
		t.night(n, o.Options)
	}
	return t.err
}

// textColumns is how wide the table may be.
const textColumns = 80

type textWriter struct {
	w    io.Writer
	zone *time.Location
	err  error
}

func (t *textWriter) printf(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format, args...)
	}
}

// wrapped writes a sentence in lines that fit, with the indent that it begins
// with, the later ones indented further.
func (t *textWriter) wrapped(text string) {
	indent := text[:len(text)-len(strings.TrimLeft(text, " "))]
	words := strings.Fields(text)
	line := indent + words[0]
	for _, word := range words[1:] {
		if len([]rune(line))+1+len([]rune(word)) > textColumns {
			t.printf("%s\n", line)
			line = indent + "  " + word
			continue
		}
		line += " " + word
	}
	t.printf("%s\n", line)
}

// assumptions names what was assumed for want of figures, once each.
func (t *textWriter) assumptions(targets []Target) {
	var assumed, broad []string
	for _, target := range targets {
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
		t.wrapped(fmt.Sprintf("Sky not measured in magnitudes, %.0f assumed: %s.", assumedMag, strings.Join(assumed, ", ")))
	}
	if len(broad) > 0 {
		t.wrapped("Wavelength not known, taken for a broad band: " + strings.Join(broad, ", ") + ".")
	}
}

func (t *textWriter) clock(at time.Time) string { return at.In(t.zone).Format("15:04") }

func (t *textWriter) span(s sky.Span) string { return t.clock(s.Start) + " to " + t.clock(s.End) }

func (t *textWriter) night(n Night, opt Options) {
	evening, _ := time.Parse(time.DateOnly, n.Date)
	t.printf("\n%s, %s (%s)\n", evening.Format("Monday"), n.Date, offsets(n, t.zone))
	switch {
	case n.DarkHours == 0:
		t.wrapped(fmt.Sprintf("  Not dark: the Sun does not sink to -12°. Moon %.0f %% lit.", n.MoonLit))
		return
	case n.Nautical:
		t.wrapped(fmt.Sprintf("  No full darkness: the Sun is below -12° from %s (%s to %s UTC); %s", t.span(n.Dark),
			n.Dark.Start.UTC().Format("15:04"), n.Dark.End.UTC().Format("15:04"), t.moon(n)))
	default:
		t.wrapped(fmt.Sprintf("  Dark from %s (%s to %s UTC), %.1f h; %s", t.span(n.Dark),
			n.Dark.Start.UTC().Format("15:04"), n.Dark.End.UTC().Format("15:04"), n.DarkHours, t.moon(n)))
	}
	t.printf("  %-22s %-14s %5s %8s %9s %7s %5s\n", "target", fmt.Sprintf("above %.0f°", opt.MinAltitude), "hours", "moonless", "highest", "crosses", "Moon")
	for _, target := range n.Targets {
		t.target(target)
	}
	if len(n.Blocks) == 0 {
		t.printf("  Nothing to shoot.\n")
	}
	for _, b := range n.Blocks {
		t.block(b)
	}
}

// offsets is the zone's distance from UTC in the night, both where it changes.
func offsets(n Night, zone *time.Location) string {
	first, last := n.Sun.Start.In(zone).Format("-07:00"), n.Sun.End.In(zone).Format("-07:00")
	if n.Sun.Hours() == 0 || first == last {
		return "UTC" + first
	}
	return "UTC" + first + ", UTC" + last + " in the morning: the clock changes"
}

func (t *textWriter) moon(n Night) string {
	text := fmt.Sprintf("Moon %.0f %% lit", n.MoonLit)
	switch {
	case len(n.MoonUp) == 0:
		return text + ", down all the time."
	case n.Moonless < 0.05:
		return text + ", up all the time."
	}
	for i, s := range n.MoonUp {
		text += map[bool]string{true: ", up ", false: " and "}[i == 0] + t.span(s)
	}
	return text + fmt.Sprintf(": %.1f h without it.", n.Moonless)
}

func (t *textWriter) target(n TargetNight) {
	name := cut(frames.Printable(string(n.Target)), 22)
	if n.Hours == 0 {
		t.printf("  %-22s %-14s %5s %8s %9s %7s %4.0f°\n", name, "never", "-", "-", "-", t.clock(n.Transit), n.MoonSeparation)
		return
	}
	t.printf("  %-22s %-14s %5.1f %8.1f %3.0f° %4.2f %7s %4.0f°\n", name, t.span(n.Up), n.Hours, n.Moonless,
		n.BestAltitude, n.BestAirmass, t.clock(n.Transit), n.MoonSeparation)
}

// cut shortens a name in its middle.
func cut(name string, n int) string {
	r := []rune(name)
	if len(r) <= n {
		return name
	}
	return string(r[:n/2]) + "…" + string(r[len(r)-(n-n/2-1):])
}

func (t *textWriter) block(b Block) {
	text := fmt.Sprintf("  %s  %s %s", t.span(b.Span), frames.Printable(string(b.Target)), frames.Printable(string(b.Filter)))
	if !math.IsNaN(b.Exposure) {
		text += fmt.Sprintf(", %g s", stats.Significant(b.Exposure, 4))
	}
	text += fmt.Sprintf(": sky %.1f ± %.1f", b.SkyMag, b.SkyMagErr)
	if b.Moon {
		text += " under the Moon"
	}
	text += fmt.Sprintf(", an hour gives %.1f h", b.Speed)
	if !b.Flip.IsZero() {
		text += ", flip at " + t.clock(b.Flip)
	}
	if !math.IsInf(b.StillHours, 1) {
		text += fmt.Sprintf("; %.1f h still needed", b.StillHours)
	}
	t.wrapped(text + ".")
}

// zoneName is how a zone is called; the machine's own has no name but its offset.
func zoneName(zone *time.Location) string {
	if zone == time.Local {
		return "this machine's time zone"
	}
	return zone.String()
}
