package ahead

import (
	"math"
	"slices"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/sky"
)

const slotLength = 10 * time.Minute

// LeastSpeed is what an hour must give for a slot to be offered to a filter: a
// broad band under a high and full Moon is left alone (common practice, no source).
const LeastSpeed = 0.4

type option struct {
	target, filter int
	wants          float64 // slots that its goal still takes at full speed; +Inf without a goal
	mean           float64 // of its speed over the useful slots of all nights
}

// slot is a piece of a night and what each option would get of it; NaN where it
// is of no use to it.
type slot struct {
	start  time.Time
	levels []level
}

func schedule(site *sky.Site, nights []Night, targets []Target, opt Options) {
	options := optionsOf(targets)
	slots := make([][]slot, len(nights))
	for i := range nights {
		slots[i] = slotsOf(site, &nights[i], targets, options)
	}
	means(options, slots)
	for i := range nights {
		chosen := fill(options, slots[i], choose(options, slots[i]))
		nights[i].Blocks = blocks(&nights[i], targets, options, slots[i], chosen, opt)
		if len(nights[i].Blocks) == 0 && nights[i].DarkHours > 0 {
			nights[i].Idle = whyIdle(&nights[i], options, slots[i])
		}
	}
}

func whyIdle(n *Night, options []option, slots []slot) fact.Code {
	up := func(o option) bool { return n.Targets[o.target].Hours > 0 }
	bears := func(s slot) bool {
		return slices.ContainsFunc(s.levels, level.bears)
	}
	switch {
	case len(options) == 0:
		return NothingWanted
	case !slices.ContainsFunc(options, up):
		return NoneHigh
	case !slices.ContainsFunc(slots, bears):
		return SkyTooBright
	}
	return TooShort
}

func optionsOf(targets []Target) []option {
	var all []option
	for t, target := range targets {
		for f, filter := range target.Filters {
			if needs := filter.needs(); needs > 0 {
				all = append(all, option{target: t, filter: f, wants: needs / slotLength.Hours()})
			}
		}
	}
	return all
}

func slotsOf(site *sky.Site, n *Night, targets []Target, options []option) []slot {
	var all []slot
	for start := n.Dark.Start; start.Before(n.Dark.End); start = start.Add(slotLength) {
		s := slot{start: start, levels: make([]level, len(options))}
		middle := start.Add(slotLength / 2)
		for i, o := range options {
			s.levels[i].speed = math.NaN()
			if up := n.Targets[o.target].Up; !middle.Before(up.Start) && middle.Before(up.End) {
				s.levels[i] = levelAt(site, middle, targets[o.target], targets[o.target].Filters[o.filter])
			}
		}
		all = append(all, s)
	}
	return all
}

// means sets what each option would gain in the mean slot that it can use.
func means(options []option, nights [][]slot) {
	for i := range options {
		sum, n := 0.0, 0
		for _, slots := range nights {
			for _, s := range slots {
				if speed := s.levels[i].speed; !math.IsNaN(speed) {
					sum += speed
					n++
				}
			}
		}
		options[i].mean = sum / float64(n)
	}
}
