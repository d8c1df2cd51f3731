package subs

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// A filter between two others that were clear before and clouded beside it had no clear sky;
// with a clear one next to it, or by itself, nothing tells that.
func TestClearestBesideCloud(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after float64 // light that is left of the neighbours' in their last and first half hour
		ends          float64 // light that is left in the middle filter's first and last sub; 0: all
		gap           float64 // minutes between one filter and the next
		covered       bool    // what is lost of the light
		middle        int     // subs of the middle filter, five minutes apart
		want          bool
	}{
		{name: "clouded on both sides", before: 0.5, after: 0.6, gap: 5, middle: 5, want: true},
		{name: "covered on both sides", before: 0.5, after: 0.6, gap: 5, covered: true, middle: 5},
		{name: "clear on both sides", before: 1, after: 1, gap: 5, middle: 5},
		{name: "clear on one side", before: 1, after: 0.5, gap: 5, middle: 5},
		{name: "clouded long before and after", before: 0.5, after: 0.5, gap: 60, middle: 5},
		{name: "clouded itself next to them", before: 0.4, after: 0.4, ends: 0.4, gap: 5, middle: 8},
		{name: "clouded at the ends of a long spell", before: 0.5, after: 0.5, gap: 5, middle: 30},
	} {
		rng := rand.New(rand.NewPCG(8, 1))
		var night []*Sub
		minute := 0.0
		shoot := func(filter string, stack, n int, light func(i int) float64) {
			for i := range n {
				tr := goodSub
				tr.transparency = light(i)
				s := makeSub(rng, fmt.Sprintf("%s_%03d.fits", filter, i), names.Name(filter), minute, tr)
				if s.Stack = stack; c.covered {
					s.Transparency.Covered = stats.Known(1-tr.transparency, 0.01, 50)
				}
				night, minute = append(night, s), minute+5
			}
			minute += c.gap - 5
		}
		shoot("G", 1, 16, func(i int) float64 {
			if i < 10 {
				return 1
			}
			return c.before
		})
		shoot("B", 2, c.middle, func(i int) float64 { // of its own best
			if c.ends > 0 && (i == 0 || i == c.middle-1) {
				return c.ends
			}
			return 1
		})
		shoot("R", 3, 16, func(i int) float64 {
			if i < 6 {
				return c.after
			}
			return 1
		})
		for i, g := range Judge(night, DefaultLimits).Groups {
			if got := fact.Has(g.Notes, ClearestBesideCloud); got != (c.want && i == 1) {
				t.Errorf("%s: group %d: notes %v", c.name, i, g.Notes)
			}
		}
	}
}
