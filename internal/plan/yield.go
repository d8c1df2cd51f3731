package plan

import (
	"math"
	"sort"

	"fitsqa/internal/names"
	"fitsqa/internal/subs"
)

// Yield is what one target got through one filter. Times are s.
type Yield struct {
	Target, Filter               names.Name
	Subs, Kept, Doubtful, Culled int
	NotJudged                    int     // subs whose files could not be read, for no fault of theirs
	Shot                         float64 // exposure of all subs, readable or not
	Usable                       float64 // of those not culled
	Clear                        float64 // equivalent time under the group's best conditions; NaN when no sub has a weight
	Season                       float64 // the same under the best conditions of the season
	Lost                         []Loss  // most first
}

// Loss is what one cause cost, under the leading cause of each sub: the whole
// exposure of a culled sub, exposure × (1 - weight) of one that is kept.
type Loss struct {
	Cause   subs.Cause
	Subs    int
	Seconds float64
}

func allSubs(groups []Group) []*subs.Sub {
	var all []*subs.Sub
	for _, g := range groups {
		all = append(all, g.Subs...)
	}
	return all
}

// yields sums up subs per target and filter, in the order in which they first occur.
func yields(all []*subs.Sub) []Yield {
	var list []*Yield
	of := map[[2]names.Name]*Yield{}
	lost := map[*Yield]map[subs.Cause]Loss{}
	weighted := map[*Yield]bool{}
	for _, s := range all {
		key := [2]names.Name{s.Target, s.Filter}
		y := of[key]
		if y == nil {
			y = &Yield{Target: s.Target, Filter: s.Filter}
			of[key], lost[y] = y, map[subs.Cause]Loss{}
			list = append(list, y)
		}
		y.Subs++
		switch s.Verdict {
		case subs.Keep:
			y.Kept++
		case subs.Doubtful:
			y.Doubtful++
		case subs.Cull:
			y.Culled++
		case subs.NotJudged:
			y.NotJudged++
		}
		if !(s.Exposure > 0) {
			continue
		}
		y.Shot += s.Exposure
		if s.Verdict.Usable() {
			y.Usable += s.Exposure
			if s.Weight.OK() {
				y.Clear += s.Exposure * s.Weight.V
				y.Season += s.Exposure * s.SeasonWeight()
				weighted[y] = true
			}
		}
		if seconds := lostSeconds(s); seconds > 0 {
			l := lost[y][s.Causes[0]]
			lost[y][s.Causes[0]] = Loss{s.Causes[0], l.Subs + 1, l.Seconds + seconds}
		}
	}
	out := make([]Yield, len(list))
	for i, y := range list {
		if y.Usable > 0 && !weighted[y] {
			y.Clear, y.Season = math.NaN(), math.NaN()
		}
		for _, l := range lost[y] {
			y.Lost = append(y.Lost, l)
		}
		sort.Slice(y.Lost, func(i, j int) bool {
			if y.Lost[i].Seconds != y.Lost[j].Seconds {
				return y.Lost[i].Seconds > y.Lost[j].Seconds
			}
			return y.Lost[i].Cause < y.Lost[j].Cause
		})
		out[i] = *y
	}
	return out
}

// lostSeconds is what a sub's leading cause cost, s.
func lostSeconds(s *subs.Sub) float64 {
	switch {
	case len(s.Causes) == 0 || !(s.Exposure > 0):
		return 0
	case s.Verdict == subs.Cull:
		return s.Exposure
	case s.Weight.OK():
		return s.Exposure * (1 - s.Weight.V)
	}
	return 0
}
