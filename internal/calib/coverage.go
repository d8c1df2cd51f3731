package calib

import (
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// best is the candidate of a kind that fits subs best; nil when there is none.
// Single frames go before masters that some program made.
func (a *analysis) best(kind frames.Kind, lights *frames.Group) *candidate {
	var best *candidate
	for _, list := range [][]*frames.Group{a.cameras.Groups(kind), a.ready[kind]} {
		for _, g := range list {
			if why := a.unusable(g); why.Code != "" {
				continue
			}
			if c := a.weigh(g, lights); !c.ofOtherCamera() && (best == nil || c.gravity() < best.gravity()) {
				best = c
			}
		}
	}
	return best
}

// unusable tells why nothing could be measured of a set, or a master cannot be used;
// no code when it can.
func (a *analysis) unusable(g *frames.Group) fact.Fact {
	if why := a.cameras.Why(g); why.Code != "" {
		return why
	}
	return a.refused[g]
}

// framesBehind counts the frames of a group that its master is made of; of a master that
// some program made -1 when that is not known, or not whether it is one.
func (a *analysis) framesBehind(g *frames.Group) int {
	switch n := g.Frames[0].Meta.Combined; {
	case slices.Contains(a.cameras.Unsure, g):
		return -1
	case !a.isMaster(g):
		if n := len(a.cameras.MadeOf(g)); n > 0 {
			return n
		}
		return len(g.Frames)
	case n > 1:
		return n
	}
	return -1
}

// match is how well a kind covers subs.
func (a *analysis) match(kind frames.Kind, lights *frames.Group) Match {
	m := Match{Fit: Fit{Kind: kind, Processed: lights.Processed()}}
	if m.Processed {
		return m
	}
	c := a.best(kind, lights)
	if c == nil {
		for _, g := range append(a.cameras.Groups(kind), a.ready[kind]...) {
			if why := a.unusable(g); why.Code != "" {
				m.Unusable = why
				return m
			}
		}
		return m
	}
	m.Group, m.Frames, m.Count = c.group, len(c.group.Frames), a.framesBehind(c.group)
	m.Master = m.Frames == 1 && a.isMaster(c.group)
	m.Unsure = m.Frames == 1 && slices.Contains(a.cameras.Unsure, c.group)
	m.Fits, m.Mismatches, m.Unknown = len(c.mismatches) == 0, c.mismatches, c.unknown
	return m
}

// coverage is the table of what fits which subs.
func (a *analysis) coverage() []Coverage {
	var all []Coverage
	for _, g := range a.lights {
		all = append(all, Coverage{Lights: g, Bias: a.match(frames.Bias, g), Dark: a.match(frames.Dark, g), Flat: a.match(frames.Flat, g)})
	}
	return all
}
