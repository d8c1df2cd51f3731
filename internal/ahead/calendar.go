package ahead

import (
	"fmt"
	"io"
	"math"
	"time"

	ics "github.com/arran4/golang-ical"

	"fitsqa/internal/stats"
)

// Calendar writes the plan as a calendar file (RFC 5545): one event a block, in
// UTC, so that any calendar shows it in its own zone. An event keeps its name
// from run to run, so that a file that is read again replaces what it said before.
func Calendar(w io.Writer, o Outlook, now time.Time) error {
	cal := ics.NewCalendar()
	cal.SetProductId("-//fitsqa//ahead//EN")
	cal.SetMethod(ics.MethodPublish)
	for _, n := range o.Nights {
		for i, b := range n.Blocks {
			e := cal.AddEvent(fmt.Sprintf("%s-%d@fitsqa", n.Date, i+1))
			e.SetDtStampTime(now.UTC())
			e.SetStartAt(b.Span.Start.UTC())
			e.SetEndAt(b.Span.End.UTC())
			e.SetSummary(summary(b))
			e.SetDescription(description(b, o.Zone))
		}
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}

func summary(b Block) string {
	if math.IsNaN(b.Exposure) {
		return fmt.Sprintf("%s %s", b.Target, b.Filter)
	}
	return fmt.Sprintf("%s %s %g s", b.Target, b.Filter, stats.Significant(b.Exposure, 4))
}

func description(b Block, zone *time.Location) string {
	text := fmt.Sprintf("Sky %.1f ± %.1f mag per square arcsecond; an hour gives %.1f clear hours.", b.SkyMag, b.SkyMagErr, b.Speed)
	if !b.Flip.IsZero() {
		text += " Meridian flip at " + b.Flip.In(zone).Format("15:04") + "."
	}
	return text
}
