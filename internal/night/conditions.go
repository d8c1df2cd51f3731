package night

import (
	"fmt"
	"math"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
)

// lookUp adds where Sun, Moon and target stood at the middle of every sub, and
// what that betrays about the clock.
func (r *Result) lookUp() {
	var shots []sky.Shot
	for _, s := range r.Subs {
		m := s.Frame.Meta
		middle := s.Start
		if s.Exposure > 0 && !middle.IsZero() {
			middle = middle.Add(seconds(s.Exposure / 2))
		}
		s.Sky = sky.At(r.siteOf(s.Frame), middle, m.RA, m.Dec)
		shots = append(shots, sky.Shot{
			Name: s.File, Camera: s.Camera, Start: s.Start, Exposure: s.Exposure,
			Stars: s.Field != nil && s.Field.Count > 0, RA: m.RA, Dec: m.Dec,
		})
	}
	r.Warnings = append(r.Warnings, sky.CheckClock(shots, r.nightSite())...)
	r.lightUp()
}

// lightUp finds when twilight and Moon brightened the sky, from the first to the
// last sub of every night: a gap between subs has a sky too. Subs are in time
// order; half a day without one is a day in between.
func (r *Result) lightUp() {
	site := r.nightSite()
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

// siteOf is where a frame was shot: the user's word, else the header's, else nil.
func (r *Result) siteOf(f *frames.Frame) *sky.Site {
	if r.Settings.Site != nil {
		return r.Settings.Site
	}
	if math.IsNaN(f.Meta.SiteLat) || math.IsNaN(f.Meta.SiteLon) {
		return nil
	}
	site := &sky.Site{Lat: f.Meta.SiteLat, Lon: f.Meta.SiteLon}
	if !math.IsNaN(f.Meta.SiteElevation) {
		site.Elevation = f.Meta.SiteElevation
	}
	return site
}

// nightSite is the one site of the whole night: the first that a sub tells, nil
// when none does.
func (r *Result) nightSite() *sky.Site {
	for _, s := range r.Subs {
		if site := r.siteOf(s.Frame); site != nil {
			return site
		}
	}
	return nil
}

// siteWarning says so when subs tell of more than one site.
func (r *Result) siteWarning() []string {
	first := r.nightSite()
	for _, s := range r.Subs {
		site := r.siteOf(s.Frame)
		// A tenth of a degree is 11 km: nobody carries a telescope that far in a night.
		if site != nil && math.Abs(site.Lat-first.Lat)+math.Abs(site.Lon-first.Lon) > 0.1 {
			return []string{fmt.Sprintf("subs tell of more than one site; hours of darkness are those of %.2f, %.2f", first.Lat, first.Lon)}
		}
	}
	return nil
}
