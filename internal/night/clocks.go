package night

import (
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
)

// readClocks holds the times of every camera's witnesses among the subs against
// the sky and their order, and corrects what is certain: each computer has a clock
// of its own.
func (r *Result) readClocks(witnesses []*Sub) {
	r.Impossible, r.disputed = map[names.Name]fact.Fact{}, map[string]bool{}
	for _, of := range partition(witnesses, func(s *Sub) names.Name { return s.Camera }) {
		settled := r.Settings.Site != nil || of[0].Frame.Meta.LonSettled
		site := r.siteIn(of)
		var shots []sky.Shot
		for _, s := range of {
			shot := s.shot()
			shot.Elsewhere = !r.SiteOf(s.Frame).Near(site)
			shots = append(shots, shot)
		}
		c := sky.ReadClock(shots, site, settled)
		r.Warnings = append(r.Warnings, c.Findings...)
		if c.Impossible.Code != "" {
			r.Impossible[of[0].Camera] = c.Impossible
			r.First = append(r.First, c.Findings[0])
		}
		for _, file := range c.Disputed {
			r.disputed[file] = true
		}
		r.correct(of[0].Camera, c)
	}
	slices.SortStableFunc(r.Subs, inOrder)
}

// siteIn is the first site that one of the subs tells.
func (r *Result) siteIn(all []*Sub) *sky.Site {
	for _, s := range all {
		if site := r.SiteOf(s.Frame); site != nil {
			return site
		}
	}
	return nil
}

func (s *Sub) shot() sky.Shot {
	m := s.Frame.Meta
	return sky.Shot{
		Name: s.File, Camera: s.Camera, Start: s.Start, Settled: m.StartZoned, Exposure: s.Exposure,
		Stars: s.Field != nil && s.Field.Count >= starry, RA: m.RA, Dec: m.Dec, Bare: m.RABare,
		Zone: m.Zone, Altitude: m.Altitude, HourAngle: m.HourAngle, Sidereal: m.Sidereal, Airmass: m.Airmass,
	}
}

// correct puts all frames of a camera right by what was found of its clock.
func (r *Result) correct(camera names.Name, c sky.Clock) {
	for _, f := range r.Frames {
		m := &f.Meta
		if m.Camera != camera {
			continue
		}
		if c.InHours && m.RABare {
			m.RA, m.RABare = 15*m.RA, false
		}
		if c.OtherSign {
			m.SiteLon = -m.SiteLon
		}
		if !m.StartZoned && !m.Start.IsZero() {
			m.Start = m.Start.Add(-c.Ahead)
		}
	}
	for _, s := range r.Subs {
		if s.Camera == camera {
			s.Start = s.Frame.Meta.Start
		}
	}
}

// starry is how many stars make a sub one of stars: a false one or two are found in
// any sky.
const starry = 10
