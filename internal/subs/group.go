package subs

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"fitsqa/internal/names"
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
	return groups
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

// noteElongation says so where the baseline itself is elongated, which no sub is
// held against.
func (g *Group) noteElongation(limits Limits) {
	x, y := g.Baseline.EllipticityX, g.Baseline.EllipticityY
	if e := math.Hypot(x, y); e > limits.For(g.Target, g.Filter).EllipticityDoubtful {
		g.Notes = append(g.Notes, fmt.Sprintf("the stars of all subs are elongated alike, by %.2f along %.0f°: no sub is blamed for it; whether optics or drift, their field map tells",
			e, math.Atan2(y, x)*90/math.Pi))
	}
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
	return fmt.Sprintf("%.6g %s", x, unit)
}
