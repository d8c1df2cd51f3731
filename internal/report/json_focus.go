package report

import "fitsqa/internal/subs"

// focusJSON is a run of subs over which focus was lost.
type focusJSON struct {
	Camera         string   `json:"camera"`
	SinceUTC       *string  `json:"since_utc"`
	UntilUTC       *string  `json:"until_utc"`
	Subs           int      `json:"subs"`
	Filters        []string `json:"filters"`
	SinceErr       real     `json:"since_err_minutes"`
	Sudden         bool     `json:"sudden"`
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
		SinceErr: real(d.SinceErr.Minutes()), Sudden: d.Sudden, BlurPerHour: newFigure(d.BlurPerHour), Widened: real(d.Widened), AltitudeKnown: !d.NoAltitude,
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
