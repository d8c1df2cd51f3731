package report

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// focusJSON is a run of subs over which focus was lost.
type focusJSON struct {
	Camera         string   `json:"camera"`
	SinceUTC       *string  `json:"since_utc"`
	UntilUTC       *string  `json:"until_utc"`
	Subs           int      `json:"subs"`
	Filters        []string `json:"filters"`
	SinceErr       real     `json:"since_err_minutes"`
	BlurPerHour    figure   `json:"blur_px_per_h"`
	Widened        real     `json:"widened"`
	AltitudeKnown  bool     `json:"altitude_known"`
	RefocusMinutes figure   `json:"refocus_minutes"`
	RefocusDegrees figure   `json:"refocus_c"`
}

// focusLawJSON is how the focuser was moved with temperature and filter.
type focusLawJSON struct {
	Camera         string       `json:"camera"`
	Runs           int          `json:"runs"`
	StepsPerDegree figure       `json:"steps_per_c"`
	Offsets        []offsetJSON `json:"filter_offsets"`
}

type offsetJSON struct {
	Filter string `json:"filter"`
	Steps  figure `json:"steps"`
}

func newFocusJSON(d subs.FocusDrift) focusJSON {
	j := focusJSON{Camera: string(d.Camera), SinceUTC: stampOrNull(d.Since), UntilUTC: stampOrNull(d.Until), Subs: d.Subs, Filters: []string{},
		SinceErr: real(d.SinceErr.Minutes()), BlurPerHour: newFigure(d.BlurPerHour), Widened: real(d.Widened), AltitudeKnown: !d.NoAltitude,
		RefocusMinutes: newFigure(d.RefocusMinutes), RefocusDegrees: newFigure(d.RefocusDegrees)}
	for _, f := range d.Filters {
		j.Filters = append(j.Filters, string(f))
	}
	return j
}

func newFocusLawJSON(l subs.FocusLaw) focusLawJSON {
	j := focusLawJSON{Camera: string(l.Camera), Runs: l.Runs, StepsPerDegree: newFigure(l.StepsPerDegree), Offsets: []offsetJSON{}}
	for _, o := range l.Offsets {
		j.Offsets = append(j.Offsets, offsetJSON{string(o.Filter), newFigure(o.Steps)})
	}
	return j
}

// focusLines is a sentence a drift and a law.
func focusLines(r *night.Result) []string {
	if r.Verdicts == nil {
		return nil
	}
	layout := strings.TrimSuffix(startLayout(r), ":05")
	var texts []string
	for _, d := range r.Verdicts.FocusDrifts {
		text := fmt.Sprintf("focus was lost from about %s on (± %.0f min at least), over %s, to %.2f times the width at %s: refocus every %.0f min",
			d.Since.UTC().Format(layout), math.Max(1, d.SinceErr.Minutes()), fact.Plural(d.Subs, "sub"), d.Widened, d.Until.UTC().Format(layout), 5*math.Max(1, math.Round(d.RefocusMinutes.V/5)))
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
			texts = append(texts, fmt.Sprintf("the focuser was moved %d times: %s", l.Runs, strings.Join(parts, ", ")))
		}
	}
	return texts
}
