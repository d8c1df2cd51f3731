package night

import (
	"math"
	"time"

	"fitsqa/internal/fact"
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
		if why := r.Impossible[s.Camera]; why.Code != "" {
			s.Sky = sky.Withheld(why)
			continue
		}
		s.Sky = sky.At(r.SiteOf(s.Frame), middle, m.RA, m.Dec)
		if r.disputed[s.File] {
			s.Sky = s.Sky.Disputed()
		}
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
