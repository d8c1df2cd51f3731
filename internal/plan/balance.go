package plan

import (
	"math"

	"fitsqa/internal/names"
)

// Standing is the clear time that a target without goals has, filter by filter, on the
// scale of the season's best night, earlier nights included. What is missing only a goal tells: equal hours of a
// line and of a broad band are nobody's aim.
type Standing struct {
	Target  names.Name
	Hours   []FilterHours
	Earlier bool // some of the time is of earlier nights
}

// FilterHours is the clear time of one filter, h.
type FilterHours struct {
	Filter names.Name
	Hours  float64
}

func (p *Plan) standings(in Input) []Standing {
	if in.EarlierUnknown != "" {
		return nil
	}
	goals := map[names.Key]bool{}
	for _, g := range p.Goals {
		goals[g.Target.Key()] = true
	}
	var list []Standing
	of := map[names.Key]int{}
	for _, y := range p.Yields {
		key := y.Target.Key()
		if goals[key] || math.IsNaN(y.Clear) {
			continue
		}
		i, ok := of[key]
		if !ok {
			i = len(list)
			of[key] = i
			list = append(list, Standing{Target: y.Target})
		}
		list[i].add(y.Filter, y.Season, in.earlier(y.Target, y.Filter))
	}
	// Filters that only earlier nights used belong to the picture too.
	for _, e := range in.Earlier {
		if i, ok := of[e.Target.Key()]; ok && p.yield(e.Target, e.Filter) == nil && !list[i].has(e.Filter) {
			list[i].add(e.Filter, 0, in.earlier(e.Target, e.Filter))
		}
	}
	return list
}

func (s *Standing) add(filter names.Name, now, earlier float64) {
	s.Hours = append(s.Hours, FilterHours{filter, (now + earlier) / 3600})
	s.Earlier = s.Earlier || earlier > 0
}

func (s *Standing) has(filter names.Name) bool {
	for _, h := range s.Hours {
		if h.Filter.Is(filter) {
			return true
		}
	}
	return false
}
