package night

import (
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// addConditions reads the clocks by some of the subs, or all, and adds where Sun, Moon and
// target stood at the middle of every one.
func (r *Result) addConditions(witnesses []*Sub) {
	r.readClocks(witnesses)
	own := 0
	for _, s := range r.Subs {
		m := s.Frame.Meta
		middle := s.Start
		if s.Exposure > 0 && !middle.IsZero() {
			middle = middle.Add(seconds(s.Exposure / 2))
		}
		if r.Impossible != "" {
			s.Sky = sky.Withheld(r.Impossible)
			continue
		}
		s.Sky = sky.At(r.SiteOf(s.Frame), middle, m.RA, m.Dec)
		if !s.Sky.Airmass.OK() && m.Airmass > 0 && (middle.IsZero() || r.SiteOf(s.Frame) == nil) {
			s.Sky.Airmass = stats.Known(math.Max(1, m.Airmass), math.NaN(), 0)
			own++
		}
	}
	if own > 0 {
		r.warn(AirmassOfHeader, fact.Count("subs", own))
	}
	r.lightUp()
}

// lightUp finds when twilight and Moon brightened the sky, from the first to the
// last sub of every night: a gap between subs has a sky too. Subs are in time
// order; half a day without one is a day in between.
func (r *Result) lightUp() {
	site := r.NightSite()
	if !site.Valid() {
		return
	}
	var night sky.Span
	flush := func() {
		r.Twilight = append(r.Twilight, sky.Twilight(site, night)...)
		r.MoonUp = append(r.MoonUp, sky.MoonUp(site, night)...)
	}
	for _, s := range r.Subs {
		if s.Start.IsZero() {
			continue
		}
		if night.Start.IsZero() || s.Start.Sub(night.End) > 12*time.Hour {
			flush()
			night = sky.Span{Start: s.Start, End: s.Start}
		}
		end := s.Start
		if s.Exposure > 0 && s.Exposure < 86400 {
			end = end.Add(seconds(s.Exposure))
		}
		if end.After(night.End) {
			night.End = end
		}
	}
	flush()
}

// SiteOf is where a frame was shot: the user's word, else the header's; nil when
// neither tells, or when it cannot be true.
func (r *Result) SiteOf(f *frames.Frame) *sky.Site {
	if r.Impossible != "" {
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
		// A tenth of a degree is 11 km: nobody carries a telescope that far in a night.
		if site != nil && math.Abs(site.Lat-first.Lat)+math.Abs(site.Lon-first.Lon) > 0.1 {
			return []fact.Fact{fact.Of(SeveralSites, fact.Number("lat_deg", first.Lat), fact.Number("lon_deg", first.Lon))}
		}
	}
	return nil
}
