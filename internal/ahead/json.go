package ahead

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/sky"
)

// The documents below are what `fitsqa ahead --json` writes: times in UTC
// (RFC 3339), angles in degrees, null for what is not known.

type document struct {
	Version int         `json:"ahead_version"`
	Lat     float64     `json:"lat"`
	Lon     float64     `json:"lon"`
	Zone    string      `json:"zone"`
	Skipped []skipped   `json:"skipped"`
	Filters []filterDoc `json:"filters"`
	Nights  []nightDoc  `json:"nights"`
}

type skipped struct {
	Target names.Name `json:"target"`
	Why    string     `json:"why"`
}

type filterDoc struct {
	Target       names.Name `json:"target"`
	Filter       names.Name `json:"filter"`
	WavelengthNM float64    `json:"wavelength_nm"`
	NameTells    bool       `json:"wavelength_known"`
	HaveHours    float64    `json:"have_clear_h"`
	GoalHours    *float64   `json:"goal_clear_h"`
	SkyRate      *float64   `json:"sky_e_per_s_arcsec2"`
	SkyMag       float64    `json:"sky_mag_arcsec2"`
	SkyMagErr    float64    `json:"sky_mag_err"`
	SkyNights    int        `json:"sky_nights"`
}

type spanDoc struct {
	Start time.Time `json:"start_utc"`
	End   time.Time `json:"end_utc"`
}

type nightDoc struct {
	Date      string      `json:"date"`
	Sun       *spanDoc    `json:"sun_down"`
	Dark      *spanDoc    `json:"dark"`
	Nautical  bool        `json:"dark_from_minus_12"`
	DarkHours float64     `json:"dark_h"`
	Moonless  float64     `json:"moonless_h"`
	MoonUp    []spanDoc   `json:"moon_up"`
	MoonLit   float64     `json:"moon_lit_pct"`
	Targets   []targetDoc `json:"targets"`
	Blocks    []blockDoc  `json:"shoot"`
}

type targetDoc struct {
	Target         names.Name `json:"target"`
	Transit        time.Time  `json:"transit_utc"`
	Up             *spanDoc   `json:"up"`
	Hours          float64    `json:"up_h"`
	Moonless       float64    `json:"moonless_h"`
	BestAltitude   *float64   `json:"best_altitude_deg"`
	BestAirmass    *float64   `json:"best_airmass"`
	MoonSeparation float64    `json:"moon_separation_deg"`
	Curve          []pointDoc `json:"curve"`
}

type pointDoc struct {
	Time           time.Time `json:"utc"`
	Altitude       float64   `json:"altitude_deg"`
	Airmass        *float64  `json:"airmass"`
	MoonAltitude   float64   `json:"moon_altitude_deg"`
	MoonSeparation float64   `json:"moon_separation_deg"`
	Brightening    *float64  `json:"moonlight_mag"`
}

type blockDoc struct {
	Start      time.Time  `json:"start_utc"`
	End        time.Time  `json:"end_utc"`
	Target     names.Name `json:"target"`
	Filter     names.Name `json:"filter"`
	Moon       bool       `json:"moon"`
	SkyMag     float64    `json:"sky_mag_arcsec2"`
	SkyMagErr  float64    `json:"sky_mag_err"`
	Speed      float64    `json:"clear_h_per_h"`
	Exposure   *float64   `json:"exposure_s"`
	Flip       *time.Time `json:"flip_utc"`
	StillHours *float64   `json:"still_needed_h"`
}

// JSON writes the plan for programs.
func JSON(w io.Writer, o Outlook) error {
	d := document{Version: 1, Lat: o.Site.Lat, Lon: o.Site.Lon, Zone: o.Zone.String(), Skipped: []skipped{}, Filters: []filterDoc{}, Nights: []nightDoc{}}
	for _, s := range o.Skipped {
		d.Skipped = append(d.Skipped, skipped(s))
	}
	for _, t := range o.Targets {
		for _, f := range t.Filters {
			d.Filters = append(d.Filters, filterDocOf(t.Name, f))
		}
	}
	for _, n := range o.Nights {
		d.Nights = append(d.Nights, nightDocOf(n))
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

func filterDocOf(target names.Name, f Filter) filterDoc {
	d := filterDoc{Target: target, Filter: f.Name, WavelengthNM: f.WavelengthNM, NameTells: f.Known, HaveHours: f.HaveHours,
		SkyRate: known(f.Sky.Rate), SkyMag: f.Sky.Mag, SkyMagErr: f.Sky.MagErr, SkyNights: f.Sky.Nights}
	if f.GoalHours > 0 {
		d.GoalHours = &f.GoalHours
	}
	return d
}

func nightDocOf(n Night) nightDoc {
	d := nightDoc{Date: n.Date, Sun: spanOf(n.Sun), Dark: spanOf(n.Dark), Nautical: n.Nautical, DarkHours: n.DarkHours,
		Moonless: n.Moonless, MoonUp: []spanDoc{}, MoonLit: n.MoonLit, Targets: []targetDoc{}, Blocks: []blockDoc{}}
	for _, s := range n.MoonUp {
		d.MoonUp = append(d.MoonUp, *spanOf(s))
	}
	for _, t := range n.Targets {
		doc := targetDoc{Target: t.Target, Transit: t.Transit.UTC(), Up: spanOf(t.Up), Hours: t.Hours, Moonless: t.Moonless,
			BestAltitude: known(t.BestAltitude), BestAirmass: known(t.BestAirmass), MoonSeparation: t.MoonSeparation, Curve: []pointDoc{}}
		for _, p := range t.Curve {
			doc.Curve = append(doc.Curve, pointDoc{p.Time.UTC(), p.Altitude, known(p.Airmass), p.MoonAltitude, p.MoonSeparation, known(p.MoonBrighteningMag)})
		}
		d.Targets = append(d.Targets, doc)
	}
	for _, b := range n.Blocks {
		doc := blockDoc{Start: b.Span.Start.UTC(), End: b.Span.End.UTC(), Target: b.Target, Filter: b.Filter, Moon: b.Moon,
			SkyMag: b.SkyMag, SkyMagErr: b.SkyMagErr, Speed: b.Speed, Exposure: known(b.Exposure), StillHours: known(b.StillHours)}
		if !b.Flip.IsZero() {
			flip := b.Flip.UTC()
			doc.Flip = &flip
		}
		d.Blocks = append(d.Blocks, doc)
	}
	return d
}

func spanOf(s sky.Span) *spanDoc {
	if s.Hours() == 0 {
		return nil
	}
	return &spanDoc{s.Start.UTC(), s.End.UTC()}
}

// known is a number as JSON writes it; nil for one that is not there.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
