package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// driftOf is the loss of focus that most of the soft subs fall into; nil for none.
func (t *Trouble) driftOf(r *night.Result) *subs.FocusDrift {
	if r.Verdicts == nil {
		return nil
	}
	for i := range r.Verdicts.FocusDrifts {
		d := &r.Verdicts.FocusDrifts[i]
		within := 0
		for _, s := range t.Subs {
			if s.Camera == d.Camera && !s.Start.Before(d.Since) && !s.Start.After(d.Until) {
				within++
			}
		}
		if 2*within > len(t.Subs) {
			return d
		}
	}
	return nil
}

// focus tells since when focus was lost, how far, and how often to refocus.
func (t *Trouble) focus(r *night.Result, d *subs.FocusDrift, c clock) string {
	var run []*night.Sub
	for _, s := range r.Subs {
		trailed := len(s.Causes) > 0 && s.Causes[0] == subs.Trailed // wide for another reason
		if s.Camera == d.Camera && !trailed && s.Field != nil && s.Field.FWHM.OK() && !s.Start.Before(d.Since) && !s.Start.After(d.Until) {
			run = append(run, s)
		}
	}
	text := "Focus went from about " + c.at(d.Since) + " on"
	if d.Sudden {
		text = "Focus was lost at once after " + c.at(d.Since)
	}
	if d.NoAltitude {
		text += ", or the target sank, whose altitude is not known"
	}
	if filters := filtersOf(run); len(filters) > 1 {
		text += ", in " + list(filters)
	}
	if len(run) > 1 {
		first, last := run[0], run[len(run)-1]
		text += ": FWHM " + span(first.Field.FWHM.V, last.Field.FWHM.V, 1, "px")
		if first.PixelScale > 0 && last.PixelScale > 0 {
			text += " (" + span(first.Field.FWHM.V*first.PixelScale, last.Field.FWHM.V*last.PixelScale, 1, "") + "″)"
		}
		text += stoodStill(first, last)
	}
	switch {
	case d.Sudden:
		return text + ". Look for what slipped or was moved, and refocus after it"
	case !d.RefocusMinutes.OK():
		return text + ". Refocus more often"
	}
	text += ". Refocus every " + duration(60*math.Max(5, 5*math.Round(d.RefocusMinutes.V/5)))
	if d.RefocusDegrees.OK() {
		text += " or " + unit(number(d.RefocusDegrees.V, 1), "°C")
	}
	return text
}

// stoodStill tells of a focuser that was not moved while the air cooled.
func stoodStill(first, last *night.Sub) string {
	if math.IsNaN(first.FocusPosition) || first.FocusPosition != last.FocusPosition {
		return ""
	}
	change := last.AmbientTemp - first.AmbientTemp
	switch {
	case change <= -0.3:
		return fmt.Sprintf(", the focuser unmoved while it cooled by %s", unit(number(-change, 1), "°C"))
	case change >= 0.3:
		return fmt.Sprintf(", the focuser unmoved while it warmed by %s", unit(number(change, 1), "°C"))
	}
	return ", the focuser unmoved"
}

// laws tell how the focuser goes with temperature and filter, where it was moved
// often enough to show.
func laws(r *night.Result) []string {
	if r.Verdicts == nil {
		return nil
	}
	var texts []string
	for _, l := range r.Verdicts.FocusLaws {
		var parts []string
		if l.StepsPerDegree.OK() {
			parts = append(parts, unit(l.StepsPerDegree.PlusMinus(), "steps")+" per °C")
		}
		for _, o := range l.Offsets {
			parts = append(parts, fmt.Sprintf("%s off by %s", frames.Printable(string(o.Filter)), unit(o.Steps.PlusMinus(), "steps")))
		}
		if len(parts) > 0 {
			texts = append(texts, "Focuser: "+strings.Join(parts, ", ")+".")
		}
	}
	return texts
}
