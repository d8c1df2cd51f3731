package subs

import (
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Transparency is relative to a group's best, which is no clear sky where all of a filter
// was shot under cloud, as a turn of the wheel between two clear ones is. The group's own
// subs cannot tell; those of other groups shot next to its clearest can, if they lost light
// beside a best of their own. Where a group's subs next to these lost theirs too, its clearest
// were before the cloud or after it.
const (
	besideReach  = 10 * time.Minute // within which a cloud that covers one sub covers the next (common practice, no source)
	besideLost   = 0.8              // of its own best that is left of a sub under cloud
	besideFewest = 3                // clearest subs that have others next to them
)

// noteCloudBeside says so of the groups whose clearest subs mostly have clouded ones of other
// groups next to them.
func (res *Result) noteCloudBeside() {
	left := map[*Sub]float64{} // of the light, beside the best of a sub's own group
	for _, g := range res.Groups {
		for _, s := range usableSubs(g.Subs) {
			if s.Transparency.Ratio.OK() && !s.Start.IsZero() && !slices.ContainsFunc(s.Causes, takesLight) {
				left[s] = weatherTransparency(s, g.Baseline.Airmass)
			}
		}
	}
	untold := func(s *Sub) bool { _, ok := left[s]; return !ok }
	for _, g := range res.Groups {
		others := slices.DeleteFunc(res.those(func(s *Sub) bool { return s.Stack != g.Stack }), untold)
		own := slices.DeleteFunc(slices.Clone(g.Subs), untold)
		clearest := clearSubs(own, g.Baseline.Airmass)
		var beside []float64
		for _, s := range clearest {
			if o := nextTo(s, others); o != nil && slices.Contains(clearest, nextTo(o, own)) {
				beside = append(beside, left[o])
			}
		}
		if len(beside) >= besideFewest && 2*len(beside) >= len(clearest) && stats.Quantile(beside, 2./3) < besideLost {
			g.Notes = append(g.Notes, fact.Of(ClearestBesideCloud, fact.Number("left", stats.Median(beside)), fact.Number("minutes", besideReach.Minutes())))
		}
	}
}

// takesLight tells whether a cause other than cloud takes light from a sub, or leaves too little
// contrast to tell that.
func takesLight(c Cause) bool { return c == Dewed || c == Obstructed || c == Twilight }

// nextTo is the one of some subs that was shot nearest in time to another; nil where none is
// within reach.
func nextTo(s *Sub, some []*Sub) (next *Sub) {
	nearest := besideReach
	for _, o := range some {
		if apart := o.Start.Sub(s.Start).Abs(); apart <= nearest {
			nearest, next = apart, o
		}
	}
	return next
}
