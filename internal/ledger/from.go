package ledger

import (
	"fmt"
	"math"
	"path"
	"strings"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sky"
)

// Of is what a night's result tells the ledger.
func Of(r *night.Result) Record {
	var times []time.Time
	for _, s := range r.Subs {
		times = append(times, s.Start)
	}
	var rec Record
	site := siteOf(r)
	for _, s := range r.Subs {
		if s.DuplicateOf == "" {
			rec.Subs = append(rec.Subs, subOf(r, s, times))
		}
	}
	if r.Calib != nil {
		for _, set := range r.Calib.Sets {
			rec.Figures = append(rec.Figures, figuresOf(set, site)...)
		}
	}
	return rec
}

// siteOf is the site that dates calibration frames: the user's word, else that of the
// first sub whose header tells.
func siteOf(r *night.Result) *sky.Site {
	if r.Settings.Site != nil {
		return r.Settings.Site
	}
	for _, s := range r.Subs {
		if site := headerSite(s); site.Valid() {
			return site
		}
	}
	return nil
}

func headerSite(s *night.Sub) *sky.Site {
	if s.Frame == nil {
		return nil
	}
	return &sky.Site{Lat: s.Frame.Meta.SiteLat, Lon: s.Frame.Meta.SiteLon}
}

func subOf(r *night.Result, s *night.Sub, times []time.Time) Sub {
	nan := math.NaN()
	rec := Sub{
		Camera: s.Camera, Start: s.Start, Target: s.Target, Filter: s.Filter, Exposure: s.Exposure,
		Verdict: string(s.Verdict), Weight: s.Weight.V, FWHM: nan, Sky: nan, SkyMag: nan, Lat: nan, Lon: nan, File: path.Base(s.File),
	}
	site := r.Settings.Site
	if site == nil {
		site = headerSite(s)
	}
	if site.Valid() {
		rec.Lat, rec.Lon = site.Lat, site.Lon
	}
	rec.Night = sky.NewCalendar(site, times).Date(s.Start)
	if len(s.Causes) > 0 {
		rec.Cause = string(s.Causes[0])
	}
	if s.Field != nil {
		rec.FWHM = s.Field.FWHM.V * s.PixelScale
	}
	if s.SkyRate.OK() {
		rec.Sky = s.SkyRate.V / (s.PixelScale * s.PixelScale)
		rec.SkyMag = magnitude(r.Plan, s.Group, rec.Sky)
	}
	return rec
}

// magnitude of a sky rate by the zero point that the plan found for the group;
// NaN when it found none.
func magnitude(p *plan.Plan, group string, rate float64) float64 {
	if p == nil {
		return math.NaN()
	}
	for _, e := range p.Exposures {
		if e.Group == group && e.SkyMag.OK() && e.SkyArcsec.OK() {
			return e.SkyMag.V - 2.5*math.Log10(rate/e.SkyArcsec.V)
		}
	}
	return math.NaN()
}

// figuresOf are the watched figures of one set of calibration frames, dated by
// the night in which they were shot. A set whose frames have no time is left out: it
// could be months old.
func figuresOf(set *calib.Set, site *sky.Site) []Figure {
	var times []time.Time
	if set.Group != nil {
		for _, f := range set.Group.Frames {
			if !f.Meta.Start.IsZero() {
				times = append(times, f.Meta.Start)
			}
		}
	}
	if len(times) == 0 {
		return nil
	}
	middle := times[len(times)/2]
	date := sky.NewCalendar(site, times).Date(middle)
	var list []Figure
	for _, m := range set.Metrics {
		if _, ok := watched[m.Name]; ok && m.Value.OK() {
			list = append(list, Figure{Camera: set.Camera, Night: date, Metric: m.Name, Setting: setting(set.Group),
				Unit: m.Unit, Value: m.Value.V, Uncertainty: m.Value.Err, Frames: m.Value.N})
		}
	}
	return list
}

// setting is what two sets must share to be compared.
func setting(g *frames.Group) string {
	var parts []string
	add := func(format string, x float64) {
		if !math.IsNaN(x) {
			parts = append(parts, fmt.Sprintf(format, x))
		}
	}
	add("gain %g", g.GainSetting)
	add("offset %g", g.OffsetSetting)
	switch g.Kind {
	case frames.Dark: // what is hot or dark depends on temperature, and hot pixels on the exposure
		add("%.0f °C", g.SetTemp)
		add("%g s", g.Exposure)
	case frames.Flat:
		parts = append(parts, g.Filter)
	}
	if g.BinX > 1 || g.BinY > 1 {
		parts = append(parts, fmt.Sprintf("binning %dx%d", g.BinX, g.BinY))
	}
	return strings.Join(parts, ", ")
}
