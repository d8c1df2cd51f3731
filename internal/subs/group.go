package subs

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// group makes a group of each stack, which shares target, filter, exposure and
// gain, and camera, binning and size, which subs need to share to be compared
// in pixels. Groups and the subs in them are in time order.
func group(all []*Sub) []*Group {
	var groups []*Group
	of := map[int]*Group{}
	for _, s := range inTimeOrder(all) {
		g := of[s.Stack]
		if g == nil {
			g = &Group{Stack: s.Stack, Target: s.Target, Filter: s.Filter, Exposure: s.Exposure}
			of[s.Stack] = g
			groups = append(groups, g)
		}
		g.Subs = append(g.Subs, s)
	}
	label(groups)
	setApart(groups)
	setMinor(groups)
	return groups
}

// setApart finds what tells groups of one target, filter and exposure apart: the first of
// these that differ, and a number where none does.
func setApart(groups []*Group) {
	alike := map[string][]*Group{}
	for _, g := range groups {
		key := fmt.Sprint(g.Target, "\n", g.Filter, "\n", stats.Significant(g.Exposure, 2))
		alike[key] = append(alike[key], g)
	}
	for _, same := range alike {
		for _, of := range []func(s *Sub) string{
			func(s *Sub) string { return string(s.Camera) },
			func(s *Sub) string { return "gain " + strings.TrimSpace(unit(s.GainSetting, "", "unknown")) },
			func(s *Sub) string { return fmt.Sprintf("binning %d", s.Binning) },
			func(s *Sub) string { return fmt.Sprintf("%dx%d", s.Width, s.Height) },
		} {
			if tellApart(same, of) {
				break
			}
		}
	}
}

// tellApart adds what some groups differ in to what tells each apart, and tells whether no two
// are alike then.
func tellApart(same []*Group, of func(s *Sub) string) bool {
	differ := false
	for _, g := range same {
		differ = differ || of(g.Subs[0]) != of(same[0].Subs[0])
	}
	seen := map[string]bool{}
	for _, g := range same {
		if differ {
			g.Apart = strings.TrimSpace(g.Apart + " " + of(g.Subs[0]))
		}
		seen[g.Apart] = true
	}
	return len(seen) == len(same)
}

// minorShare is the share of the time through a filter under which nobody changes the
// habits of a group: subs to focus or to frame by (common practice, no source).
const minorShare = 0.03

// setMinor marks the groups that hold hardly any of the time of their target and filter.
func setMinor(groups []*Group) {
	seconds := func(g *Group) float64 {
		if math.IsNaN(g.Exposure) {
			return 0
		}
		return g.Exposure * float64(len(g.Subs))
	}
	whole := map[[2]names.Name]float64{}
	for _, g := range groups {
		whole[[2]names.Name{g.Target, g.Filter}] += seconds(g)
	}
	for _, g := range groups {
		g.Minor = seconds(g) < minorShare*whole[[2]names.Name{g.Target, g.Filter}]
	}
}

// inTimeOrder is a sorted copy: by start, subs without one last, then by name.
func inTimeOrder(all []*Sub) []*Sub {
	out := append([]*Sub(nil), all...)
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Start.IsZero() != b.Start.IsZero() {
			return b.Start.IsZero()
		}
		if !a.Start.Equal(b.Start) {
			return a.Start.Before(b.Start)
		}
		return names.Natural(a.File, b.File) < 0
	})
	return out
}

// sessions cuts subs in time order where nothing was shot for sessionGap; those
// without a start are one more.
func sessions(subs []*Sub) [][]*Sub {
	var out [][]*Sub
	for i, s := range subs {
		if i == 0 || s.Start.IsZero() != subs[i-1].Start.IsZero() || s.Start.Sub(subs[i-1].Start) > sessionGap {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out
}

// like are the subs that share width and shape with the group's: those of its
// target and filter through the same optics, whatever the exposure.
func (res *Result) like(g *Group) []*Sub {
	a := g.Subs[0]
	return res.those(func(b *Sub) bool {
		return a.Stack == b.Stack || a.Target == b.Target && a.Filter == b.Filter && sameOptics(a, b)
	})
}

// through are the subs through the group's optics, of any target and filter.
func (res *Result) through(g *Group) []*Sub {
	return res.those(func(b *Sub) bool { return sameOptics(g.Subs[0], b) })
}

// those are the subs of the groups whose first one fits.
func (res *Result) those(fits func(first *Sub) bool) []*Sub {
	var all []*Sub
	for _, g := range res.Groups {
		if fits(g.Subs[0]) {
			all = append(all, g.Subs...)
		}
	}
	return all
}

// sameOptics tells whether two subs show the same stars alike as far as the
// headers tell: pixels of one size in one camera, and one scale where it is known.
func sameOptics(a, b *Sub) bool {
	const rounded = 0.01 // of focal lengths and pixel sizes in headers
	return a.Camera == b.Camera && a.Width == b.Width && a.Height == b.Height && a.Binning == b.Binning &&
		!(math.Abs(a.PixelScale/b.PixelScale-1) > rounded)
}

// label names the groups by what they share, adding what is needed to tell
// them apart.
func label(groups []*Group) {
	count := map[string]int{}
	for _, g := range groups {
		s := g.Subs[0]
		g.Label = fmt.Sprintf("%s %s %s", or(s.Target, "unknown target"), or(s.Filter, "no filter"), unit(s.Exposure, "s", "unknown exposure"))
		if !math.IsNaN(s.GainSetting) {
			g.Label += fmt.Sprintf(" gain %g", s.GainSetting)
		}
		count[g.Label]++
	}
	seen := map[string]int{}
	for _, g := range groups {
		if base := g.Label; count[base] > 1 {
			s := g.Subs[0]
			g.Label = strings.TrimSpace(fmt.Sprintf("%s %dx%d binning %d %s", base, s.Width, s.Height, s.Binning, s.Camera))
			if seen[g.Label]++; seen[g.Label] > 1 {
				g.Label += fmt.Sprintf(" #%d", seen[g.Label])
			}
		}
		for _, s := range g.Subs {
			s.Group = g.Label
		}
	}
}

func or[S ~string](s S, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return string(s)
}

func unit(x float64, unit, otherwise string) string {
	if math.IsNaN(x) {
		return otherwise
	}
	return fmt.Sprintf("%g %s", stats.Significant(x, 4), unit)
}
