package report

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"fitsqa/internal/ahead"
	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/say"
	"fitsqa/internal/sky"
)

// The documents below are what `fitsqa ahead --json` writes: times in UTC
// (RFC 3339), angles in degrees, null for what is not known.

type aheadJSON struct {
	Version int               `json:"ahead_version"`
	Lat     float64           `json:"lat"`
	Lon     float64           `json:"lon"`
	Zone    string            `json:"zone"`
	Skipped []unplacedJSON    `json:"skipped"`
	Filters []aheadFilterJSON `json:"filters"`
	Nights  []aheadNightJSON  `json:"nights"`
}

type unplacedJSON struct {
	Target names.Name `json:"target"`
	Why    string     `json:"why"`
}

type aheadFilterJSON struct {
	Target       names.Name `json:"target"`
	Filter       names.Name `json:"filter"`
	WavelengthNM float64    `json:"wavelength_nm"`
	NameTells    bool       `json:"wavelength_known"`
	HaveHours    float64    `json:"have_clear_h"`
	GoalHours    real       `json:"goal_clear_h"`
	SkyRate      real       `json:"sky_e_per_s_arcsec2"`
	SkyMag       float64    `json:"sky_mag_arcsec2"`
	SkyMagErr    float64    `json:"sky_mag_err"`
	SkyNights    int        `json:"sky_nights"`
}

type spanJSON struct {
	Start time.Time `json:"start_utc"`
	End   time.Time `json:"end_utc"`
}

type aheadNightJSON struct {
	Date      string            `json:"date"`
	Sun       *spanJSON         `json:"sun_down"`
	Dark      *spanJSON         `json:"dark"`
	Nautical  bool              `json:"dark_from_minus_12"`
	DarkHours float64           `json:"dark_h"`
	Moonless  float64           `json:"moonless_h"`
	MoonUp    []spanJSON        `json:"moon_up"`
	MoonLit   float64           `json:"moon_lit_pct"`
	Targets   []aheadTargetJSON `json:"targets"`
	Blocks    []aheadBlockJSON  `json:"shoot"`
	Idle      fact.Code         `json:"nothing_to_shoot,omitempty"` // why there is nothing
}

type aheadTargetJSON struct {
	Target         names.Name       `json:"target"`
	Transit        time.Time        `json:"transit_utc"`
	Up             *spanJSON        `json:"up"`
	Hours          float64          `json:"up_h"`
	Moonless       float64          `json:"moonless_h"`
	BestAltitude   real             `json:"best_altitude_deg"`
	BestAirmass    real             `json:"best_airmass"`
	MoonSeparation float64          `json:"moon_separation_deg"`
	Curve          []aheadPointJSON `json:"curve"`
}

type aheadPointJSON struct {
	Time           time.Time `json:"utc"`
	Altitude       float64   `json:"altitude_deg"`
	Airmass        real      `json:"airmass"`
	MoonAltitude   float64   `json:"moon_altitude_deg"`
	MoonSeparation float64   `json:"moon_separation_deg"`
	Brightening    real      `json:"moonlight_mag"`
}

type aheadBlockJSON struct {
	Start      time.Time  `json:"start_utc"`
	End        time.Time  `json:"end_utc"`
	Target     names.Name `json:"target"`
	Filter     names.Name `json:"filter"`
	Moon       bool       `json:"moon"`
	SkyMag     float64    `json:"sky_mag_arcsec2"`
	SkyMagErr  float64    `json:"sky_mag_err"`
	Speed      float64    `json:"clear_h_per_h"`
	Exposure   real       `json:"exposure_s"`
	Flip       *time.Time `json:"flip_utc"`
	StillHours real       `json:"still_needed_h"`
}

// zoneName is that of the zone; of the machine's, which has none, its distance from UTC in
// the first night.
func zoneName(o ahead.Outlook) string {
	if o.Zone != time.Local || len(o.Nights) == 0 {
		return o.Zone.String()
	}
	return "UTC" + o.Nights[0].Sun.Start.In(o.Zone).Format("-07:00")
}

// AheadJSON writes the plan of the coming nights for programs.
func AheadJSON(w io.Writer, o ahead.Outlook) error {
	d := aheadJSON{Version: 1, Lat: o.Site.Lat, Lon: o.Site.Lon, Zone: zoneName(o), Skipped: []unplacedJSON{}, Filters: []aheadFilterJSON{}, Nights: []aheadNightJSON{}}
	for _, target := range o.Unplaced {
		d.Skipped = append(d.Skipped, unplacedJSON{target, say.Unplaced})
	}
	for _, t := range o.Targets {
		for _, f := range t.Filters {
			d.Filters = append(d.Filters, newAheadFilterJSON(t.Name, f))
		}
	}
	for _, n := range o.Nights {
		d.Nights = append(d.Nights, newAheadNightJSON(n))
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

func newAheadFilterJSON(target names.Name, f ahead.Filter) aheadFilterJSON {
	d := aheadFilterJSON{Target: target, Filter: f.Name, WavelengthNM: f.WavelengthNM, NameTells: f.Known, HaveHours: f.HaveHours,
		SkyRate: real(f.Sky.Rate), SkyMag: f.Sky.Mag, SkyMagErr: f.Sky.MagErr, SkyNights: f.Sky.Nights, GoalHours: real(math.NaN())}
	if f.GoalHours > 0 {
		d.GoalHours = real(f.GoalHours)
	}
	return d
}

func newAheadNightJSON(n ahead.Night) aheadNightJSON {
	d := aheadNightJSON{Date: n.Date, Sun: newSpanJSON(n.Sun), Dark: newSpanJSON(n.Dark), Nautical: n.Nautical, DarkHours: n.DarkHours,
		Moonless: n.Moonless, MoonUp: []spanJSON{}, MoonLit: n.MoonLit, Targets: []aheadTargetJSON{}, Blocks: []aheadBlockJSON{}, Idle: n.Idle}
	for _, s := range n.MoonUp {
		d.MoonUp = append(d.MoonUp, *newSpanJSON(s))
	}
	for _, t := range n.Targets {
		doc := aheadTargetJSON{Target: t.Target, Transit: t.Transit.UTC(), Up: newSpanJSON(t.Up), Hours: t.Hours, Moonless: t.Moonless,
			BestAltitude: real(t.BestAltitude), BestAirmass: real(t.BestAirmass), MoonSeparation: t.MoonSeparation, Curve: []aheadPointJSON{}}
		for _, p := range t.Curve {
			doc.Curve = append(doc.Curve, aheadPointJSON{p.Time.UTC(), p.Altitude, real(p.Airmass), p.MoonAltitude, p.MoonSeparation, real(p.MoonBrighteningMag)})
		}
		d.Targets = append(d.Targets, doc)
	}
	for _, b := range n.Blocks {
		doc := aheadBlockJSON{Start: b.Span.Start.UTC(), End: b.Span.End.UTC(), Target: b.Target, Filter: b.Filter, Moon: b.Moon,
			SkyMag: b.SkyMag, SkyMagErr: b.SkyMagErr, Speed: b.Speed, Exposure: real(b.Exposure), StillHours: real(b.StillHours)}
		if !b.Flip.IsZero() {
			flip := b.Flip.UTC()
			doc.Flip = &flip
		}
		d.Blocks = append(d.Blocks, doc)
	}
	return d
}

func newSpanJSON(s sky.Span) *spanJSON {
	if s.Hours() == 0 {
		return nil
	}
	return &spanJSON{s.Start.UTC(), s.End.UTC()}
}
