package subs

import (
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Transparency is relative to a group's best, which is no clear sky where all of a filter
// was shot under cloud, as a turn of the wheel between two clear ones is. The group's own
// subs cannot tell; those of other groups shot next to its clearest can, if they lost light
// beside a best of their own.
const (
	besideReach  = 10 * time.Minute // within which a cloud that covers one sub covers the next (common practice, no source)
	besideLost   = 0.8              // of its own best that is left of a sub under cloud
	besideFewest = 3                // clearest subs that have others next to them
)

// noteCloudBeside says so of a group whose clearest subs mostly have clouded ones of other groups
// next to them.
func (g *Group) noteCloudBeside(groups []*Group) {
	clearest := clearSubs(usableSubs(g.Subs), g.Baseline.Airmass)
	var left []float64
	for _, s := range clearest {
		if light, ok := lightBeside(s, g, groups); ok {
			left = append(left, light)
		}
	}
	if len(left) < besideFewest || 2*len(left) < len(clearest) {
		return
	}
	if light := stats.Quantile(left, 2./3); light < besideLost {
		g.Notes = append(g.Notes, fact.Of(ClearestBesideCloud, fact.Number("left", stats.Median(left)), fact.Number("minutes", besideReach.Minutes())))
	}
}

// lightBeside is what is left of the light, beside the best of its own group, in the sub of another
// group that was shot next to this one; false where none was within reach.
func lightBeside(s *Sub, own *Group, groups []*Group) (left float64, ok bool) {
	nearest := besideReach
	for _, g := range groups {
		if g == own || s.Start.IsZero() {
			continue
		}
		for _, o := range g.Subs {
			apart := o.Start.Sub(s.Start).Abs()
			if o.Field != nil && o.Transparency.Ratio.OK() && !o.Start.IsZero() && apart <= nearest {
				nearest, left, ok = apart, weatherTransparency(o, g.Baseline.Airmass), true
			}
		}
	}
	return left, ok
}
