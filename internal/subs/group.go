package subs

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// group sorts subs into groups of one target, filter, exposure (within 1 %)
// and gain, and of one camera, binning and size, which subs need to share to be
// compared in pixels. Groups and the subs in them are in time order.
func group(all []*Sub) []*Group {
	var groups []*Group
	for _, s := range inTimeOrder(all) {
		g := find(groups, s)
		if g == nil {
			g = &Group{Target: s.Target, Filter: s.Filter, Exposure: s.Exposure}
			groups = append(groups, g)
		}
		g.Subs = append(g.Subs, s)
	}
	label(groups)
	return groups
}

func find(groups []*Group, s *Sub) *Group {
	for _, g := range groups {
		if belongs(g.Subs[0], s) {
			return g
		}
	}
	return nil
}

// belongs compares what the header told; an unreadable file whose size is
// unknown goes with the others of its settings.
func belongs(a, b *Sub) bool {
	return strings.EqualFold(a.Target, b.Target) && strings.EqualFold(a.Filter, b.Filter) &&
		a.Camera == b.Camera && sameExposure(a.Exposure, b.Exposure) && same(a.GainSetting, b.GainSetting) &&
		(a.Width == 0 || b.Width == 0 || a.Width == b.Width && a.Height == b.Height && a.Binning == b.Binning)
}

// same holds for equal numbers, and for two unknown ones.
func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

func sameExposure(a, b float64) bool {
	return same(a, b) || math.Abs(a-b) <= 0.01*math.Max(a, b)
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
		return a.File < b.File
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
		g.Notes = append(g.Notes, fmt.Sprintf("the stars of all subs are elongated alike, by %.2f along %.0f°: tilt, collimation or steady drift; no sub is blamed for it",
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

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

func unit(x float64, unit, otherwise string) string {
	if math.IsNaN(x) {
		return otherwise
	}
	return fmt.Sprintf("%.6g %s", x, unit)
}
