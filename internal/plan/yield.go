package plan

import (
	"math"

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
	weighted := map[*Yield]bool{}
	for _, s := range all {
		key := [2]names.Name{s.Target, s.Filter}
		y := of[key]
		if y == nil {
			y = &Yield{Target: s.Target, Filter: s.Filter}
			of[key] = y
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
	}
	out := make([]Yield, len(list))
	for i, y := range list {
		if y.Usable > 0 && !weighted[y] {
			y.Clear, y.Season = math.NaN(), math.NaN()
		}
		out[i] = *y
	}
	return out
}
