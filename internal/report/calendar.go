package report

import (
	"fmt"
	"io"
	"time"

	ics "github.com/arran4/golang-ical"

	"fitsqa/internal/ahead"
	"fitsqa/internal/say"
)

// Calendar writes the plan as a calendar file (RFC 5545): one event a block, in
// UTC, so that any calendar shows it in its own zone. An event keeps its name
// from run to run, so that a file that is read again replaces what it said before.
func Calendar(w io.Writer, o ahead.Outlook, now time.Time) error {
	cal := ics.NewCalendar()
	cal.SetProductId("-//fitsqa//ahead//EN")
	cal.SetMethod(ics.MethodPublish)
	for _, n := range o.Nights {
		for i, b := range n.Blocks {
			e := cal.AddEvent(fmt.Sprintf("%s-%d@fitsqa", n.Date, i+1))
			e.SetDtStampTime(now.UTC())
			e.SetStartAt(b.Span.Start.UTC())
			e.SetEndAt(b.Span.End.UTC())
			e.SetSummary(say.BlockTitle(b))
			e.SetDescription(say.BlockOutlook(b, o.Zone))
		}
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}
