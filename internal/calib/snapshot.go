package calib

import (
	"slices"
	"sync"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// Snapshot is a Result without its pixels, made to be kept and restored while
// the calibration frames, the groups of subs and the options stay the same.
// Groups stand in it by their places among those of the scan.
type Snapshot struct {
	Sets   []SetSnapshot
	Lights []LightsSnapshot
}

// SetSnapshot is a set and the place of its group, -1 for a camera's summary.
type SetSnapshot struct {
	Set   sensor.Set
	Group int
}

// LightsSnapshot is what fits one group of subs.
type LightsSnapshot struct {
	Group            int
	Bias, Dark, Flat MatchSnapshot
	Calibration      Calibration // without pixels
}

// MatchSnapshot is a Match, and the place of the set that DarkSetFor and its
// like give, -1 for none.
type MatchSnapshot struct {
	Group, Set int
	Fit        Fit
}

// Snapshot takes down what the Result knows. It is false where that would not
// be all: with masters that other programs made, with full hot-pixel maps or lists, and where
// pixels of subs were asked.
func (r *Result) Snapshot(scan *frames.Sorted) (Snapshot, bool) {
	a := r.analysis
	if a == nil || a.opt.Maps || a.opt.Masters || len(scan.Masters) > 0 {
		return Snapshot{}, false
	}
	find := func(g *frames.Group) int { return slices.Index(scan.Groups, g) }
	var s Snapshot
	for _, set := range r.Sets {
		kept := SetSnapshot{*set, find(set.Group)}
		kept.Set.Group = nil
		s.Sets = append(s.Sets, kept)
	}
	match := func(m Match, lights *frames.Group, kind frames.Kind) MatchSnapshot {
		return MatchSnapshot{find(m.Group), slices.Index(r.Sets, r.setFor(kind, lights)), m.Fit}
	}
	for _, c := range r.Coverage {
		cal := r.For(c.Lights)
		cal.planes = Planes{}
		s.Lights = append(s.Lights, LightsSnapshot{
			Group: find(c.Lights), Calibration: cal,
			Bias: match(c.Bias, c.Lights, frames.Bias), Dark: match(c.Dark, c.Lights, frames.Dark), Flat: match(c.Flat, c.Lights, frames.Flat),
		})
	}
	return s, !a.askedSubs
}

// Restore makes a Result from a snapshot and the frames that it was taken of.
// planes is called for a group of subs when its masters are first applied. It
// is false when the snapshot is of other groups.
func Restore(s Snapshot, groups []*frames.Group, planes func(lights *frames.Group) Planes) (*Result, bool) {
	at := func(i int) *frames.Group {
		if i < 0 {
			return nil
		}
		return groups[i]
	}
	for _, set := range s.Sets {
		if set.Group >= len(groups) {
			return nil, false
		}
	}
	r := &Result{restored: map[*frames.Group]*restored{}}
	for _, kept := range s.Sets {
		set := kept.Set
		set.Group = at(kept.Group)
		r.Sets = append(r.Sets, &set)
	}
	for _, l := range s.Lights {
		for _, m := range []MatchSnapshot{l.Bias, l.Dark, l.Flat} {
			if m.Group >= len(groups) || m.Set >= len(r.Sets) {
				return nil, false
			}
		}
		if l.Group < 0 || l.Group >= len(groups) {
			return nil, false
		}
		lights := groups[l.Group]
		known := &restored{calibration: l.Calibration, sets: map[frames.Kind]*sensor.Set{}}
		known.calibration.late = sync.OnceValue(func() Planes { return planes(lights) })
		match := func(m MatchSnapshot, kind frames.Kind) Match {
			if m.Set >= 0 {
				known.sets[kind] = r.Sets[m.Set]
			}
			return Match{at(m.Group), m.Fit}
		}
		r.Coverage = append(r.Coverage, Coverage{lights, match(l.Bias, frames.Bias), match(l.Dark, frames.Dark), match(l.Flat, frames.Flat)})
		r.restored[lights] = known
	}
	return r, true
}
