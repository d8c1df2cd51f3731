package calib

import (
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/frames"
)

// best is the candidate of a kind that fits subs best; nil when there is none.
// Single frames go before masters that some program made.
func (a *analysis) best(kind frames.Kind, lights *frames.Group) *candidate {
	var best *candidate
	for _, list := range [][]*frames.Group{a.cameras.Groups(kind), a.ready[kind]} {
		for _, g := range list {
			if why := a.unusable(g); why != "" {
				continue
			}
			if c := a.weigh(g, lights); best == nil || c.gravity() < best.gravity() {
				best = c
			}
		}
	}
	return best
}

// unusable tells why nothing could be measured of a set, or a master cannot be used;
// "" when it can.
func (a *analysis) unusable(g *frames.Group) string {
	if why := a.cameras.Why(g); why != "" {
		return why
	}
	return a.refused[g]
}

// framesBehind counts the frames of a group; of a master those that it was made
// of, -1 when that is not known, or not whether it is a master.
func (a *analysis) framesBehind(g *frames.Group) int {
	switch n := g.Frames[0].Meta.Combined; {
	case slices.Contains(a.cameras.Unsure, g):
		return -1
	case !a.isMaster(g):
		return len(g.Frames)
	case n > 1:
		return n
	}
	return -1
}

// madeOf words of how many frames a master was made.
func madeOf(g *frames.Group) string {
	if n := g.Frames[0].Meta.Combined; n > 1 {
		return fmt.Sprintf(" of %d frames", n)
	}
	return " (of how many frames is not known)"
}

var plurals = map[frames.Kind]string{frames.Bias: "bias frames", frames.Dark: "darks", frames.Flat: "flats"}

// match words how well a kind covers subs.
func (a *analysis) match(kind frames.Kind, lights *frames.Group) Match {
	if lights.Processed() {
		return Match{Words: "none applied, the subs were calibrated or aligned before"}
	}
	c := a.best(kind, lights)
	if c == nil {
		for _, g := range append(a.cameras.Groups(kind), a.ready[kind]...) {
			if why := a.unusable(g); why != "" {
				return Match{Words: fmt.Sprintf("no usable %s: %s", plurals[kind], why)}
			}
		}
		return Match{Words: "no " + plurals[kind]}
	}
	what := fmt.Sprintf("%d %s", len(c.group.Frames), plurals[kind])
	if len(c.group.Frames) == 1 {
		what = "1 " + strings.TrimSuffix(plurals[kind], "s")
		if a.isMaster(c.group) {
			what = "a master " + string(kind) + madeOf(c.group)
		} else if slices.Contains(a.cameras.Unsure, c.group) {
			what += " (whether raw or a master is not known)"
		}
	}
	m := Match{Group: c.group, Fits: len(c.mismatches) == 0, Count: a.framesBehind(c.group), Mismatches: c.mismatches}
	var differ []string
	for _, x := range c.mismatches {
		differ = append(differ, x.String())
	}
	verb := " fit"
	if len(c.group.Frames) == 1 {
		verb = " fits"
	}
	switch {
	case !m.Fits:
		m.Words = fmt.Sprintf("%s, not matching: %s", what, strings.Join(differ, "; "))
	case len(c.unknown) > 0:
		var unknown []string
		for _, p := range c.unknown {
			unknown = append(unknown, string(p))
		}
		m.Words = fmt.Sprintf("%s%s as far as the headers tell (%s unknown)", what, verb, strings.Join(unknown, ", "))
	default:
		m.Words = what + verb
	}
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
