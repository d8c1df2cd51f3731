package report

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
)

func focusLines(r *night.Result) []string {
	if r.Verdicts == nil {
		return nil
	}
	layout := strings.TrimSuffix(startLayout(r), ":05")
	var texts []string
	for _, d := range r.Verdicts.FocusDrifts {
		since, until, over := d.Since.UTC().Format(layout), d.Until.UTC().Format(layout), fact.Plural(d.Subs, "sub")
		err := math.Max(1, d.SinceErr.Minutes())
		text := fmt.Sprintf("focus was lost from about %s on (± %.0f min at least), over %s, to %.2f times the width at %s: refocus every %.0f min",
			since, err, over, d.Widened, until, 5*math.Max(1, math.Round(d.RefocusMinutes.V/5)))
		if d.Sudden {
			text = fmt.Sprintf("focus was lost at once after %s (± %.0f min at least), to %.2f times the width, over %s to %s", since, err, d.Widened, over, until)
		}
		if d.RefocusDegrees.OK() {
			text += fmt.Sprintf(" or %.1f °C", d.RefocusDegrees.V)
		}
		if d.NoAltitude {
			text += "; the target's altitude, which is not known, may have its part in it"
		}
		texts = append(texts, text)
	}
	for _, l := range r.Verdicts.FocusLaws {
		var parts []string
		if l.StepsPerDegree.OK() {
			parts = append(parts, l.StepsPerDegree.PlusMinus()+" steps per °C")
		}
		for _, o := range l.Offsets {
			parts = append(parts, fmt.Sprintf("%s off by %s", frames.Printable(string(o.Filter)), o.Steps.PlusMinus()))
		}
		if len(parts) > 0 {
			texts = append(texts, fmt.Sprintf("the focuser was moved %s: %s", fact.Plural(l.Runs, "time"), strings.Join(parts, ", ")))
		}
	}
	return texts
}
