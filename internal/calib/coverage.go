package calib

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
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
	if m.Fits && kind == frames.Dark && m.Count > 0 {
		m.Beside = a.warmedAlike(c.group, lights)
		m.Count, m.Frames = m.Count+m.Beside, m.Frames+m.Beside
	}
	return m
}

// warmedAlike counts the darks beside those that fit whose temperatures subs went through whose
// sensor drifts: a camera without a set point drifts in its darks as it does in its subs, and
// the mean of all is as warm as most subs are.
func (a *analysis) warmedAlike(fitting, lights *frames.Group) (count int) {
	from, to := math.Inf(1), math.Inf(-1)
	for _, f := range lights.Frames {
		if t := f.Meta.SensorTemp; !math.IsNaN(t) {
			from, to = math.Min(from, t), math.Max(to, t)
		}
	}
	if !(to-from > 2*a.opt.TempTolC) {
		return 0
	}
	for _, g := range a.cameras.Groups(frames.Dark) {
		t := sensor.TemperatureOf(g)
		if g == fitting || a.unusable(g).Code != "" || t < from-a.opt.TempTolC || t > to+a.opt.TempTolC {
			continue
		}
		if a.weigh(g, lights).only(OfTemperature) {
			count += max(a.framesBehind(g), 0)
		}
	}
	return count
}

func (a *analysis) coverage() []Coverage {
	var all []Coverage
	for _, g := range a.lights {
		all = append(all, Coverage{Lights: g, Bias: a.match(frames.Bias, g), Dark: a.match(frames.Dark, g), Flat: a.match(frames.Flat, g)})
	}
	return all
}
