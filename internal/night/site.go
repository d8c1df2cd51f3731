package night

import (
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
)

// SiteOf is where a frame was shot: the user's word, else the header's; nil when
// neither tells, or when it cannot be true.
func (r *Result) SiteOf(f *frames.Frame) *sky.Site {
	if f != nil && r.Impossible[f.Meta.Camera].Code != "" {
		return nil
	}
	if r.Settings.Site != nil {
		return r.Settings.Site
	}
	if f == nil || math.IsNaN(f.Meta.SiteLat) || math.IsNaN(f.Meta.SiteLon) {
		return nil
	}
	site := &sky.Site{Lat: f.Meta.SiteLat, Lon: f.Meta.SiteLon}
	if !math.IsNaN(f.Meta.SiteElevation) {
		site.Elevation = f.Meta.SiteElevation
	}
	return site
}

// NightSite is the one site of the whole night: the first that a sub tells, nil
// when none does.
func (r *Result) NightSite() *sky.Site {
	for _, s := range r.Subs {
		if site := r.SiteOf(s.Frame); site != nil {
			return site
		}
	}
	return nil
}

// siteWarning says so when subs tell of more than one site.
func (r *Result) siteWarning() []fact.Fact {
	first := r.NightSite()
	for _, s := range r.Subs {
		site := r.SiteOf(s.Frame)
		if site != nil && !site.Near(first) {
			return []fact.Fact{fact.Of(SeveralSites, fact.Number("lat_deg", first.Lat), fact.Number("lon_deg", first.Lon))}
		}
	}
	return nil
}

// nightOf is the date of the evening of a sub's night.
func (r *Result) nightOf(s *Sub) string {
	var times []time.Time
	for _, other := range r.Subs {
		times = append(times, other.Start)
	}
	return sky.NewCalendar(r.SiteOf(s.Frame), times).Date(s.Start)
}
