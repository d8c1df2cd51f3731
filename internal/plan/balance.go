package plan

import (
	"math"
	"strings"

	"fitsqa/internal/names"
)

// Balance is how evenly the filters of one target were served, for targets
// without goals.
type Balance struct {
	Target  names.Name
	Sets    []FilterSet
	Lagging names.Name // the filter that lags most behind its set; "" when none does
	Behind  float64    // h of clear time that it lacks to the best of its set
}

// FilterSet is filters whose stacks are combined as equals: colours with
// colours, lines with lines.
type FilterSet struct {
	Name  string // "colour", "narrowband" or "other"
	Hours []FilterHours
}

// FilterHours is the clear time of one filter, earlier nights included, h.
type FilterHours struct {
	Filter names.Name
	Hours  float64
}

// lags: a filter with less than this share of the best of its set lags.
const lags = 0.75

// setOf sorts filters into sets by the names that are in general use (common practice, no source).
func setOf(filter names.Name) string {
	name := names.Name(nanometres.ReplaceAllString(string(filter), "")).Key()
	switch name {
	case "r", "g", "b", "red", "green", "blue":
		return "colour"
	}
	for _, line := range []names.Key{"ha", "halpha", "hα", "h2", "hbeta", "hb", "oiii", "o3", "sii", "s2", "nii"} {
		if name == line {
			return "narrowband"
		}
	}
	return "other"
}

func (p *Plan) balance(in Input) []Balance {
	if in.EarlierUnknown != "" {
		return nil // which filter is behind hangs on all nights
	}
	goals := map[names.Key]bool{}
	for _, g := range p.Goals {
		goals[g.Target.Key()] = true
	}
	var list []Balance
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
			list = append(list, Balance{Target: y.Target})
		}
		list[i].add(FilterHours{y.Filter, (y.Season + in.earlier(y.Target, y.Filter)) / 3600})
	}
	// Filters that only earlier nights used belong to the picture too.
	for _, e := range in.Earlier {
		if i, ok := of[e.Target.Key()]; ok && p.yield(e.Target, e.Filter) == nil && !list[i].has(e.Filter) {
			list[i].add(FilterHours{e.Filter, in.earlier(e.Target, e.Filter) / 3600})
		}
	}
	for i := range list {
		list[i].compare()
	}
	return list
}

func (b *Balance) add(h FilterHours) {
	name := setOf(h.Filter)
	for i := range b.Sets {
		if b.Sets[i].Name == name {
			b.Sets[i].Hours = append(b.Sets[i].Hours, h)
			return
		}
	}
	b.Sets = append(b.Sets, FilterSet{name, []FilterHours{h}})
}

func (b *Balance) has(filter names.Name) bool {
	for _, set := range b.Sets {
		for _, h := range set.Hours {
			if h.Filter.Is(filter) {
				return true
			}
		}
	}
	return false
}

// compare finds what lags within the sets; where no set has two filters to
// compare, over all of them.
func (b *Balance) compare() {
	var all []FilterHours
	compared := false
	for _, set := range b.Sets {
		all = append(all, set.Hours...)
		if set.Name != "other" && len(set.Hours) > 1 {
			b.lag(set.Hours)
			compared = true
		}
	}
	if !compared {
		b.lag(all)
	}
}

func (b *Balance) lag(hours []FilterHours) {
	most, least := hours[0], hours[0]
	for _, h := range hours {
		if h.Hours > most.Hours {
			most = h
		}
		if h.Hours < least.Hours {
			least = h
		}
	}
	if behind := most.Hours - least.Hours; least.Hours < lags*most.Hours && behind > b.Behind {
		b.Lagging, b.Behind = least.Filter, behind
	}
}

// filters names all filters with their hours, for a sentence.
func (b *Balance) filters() string {
	var parts []string
	for _, set := range b.Sets {
		for _, h := range set.Hours {
			parts = append(parts, or(h.Filter, "no filter")+" "+duration(h.Hours*3600))
		}
	}
	return strings.Join(parts, ", ")
}
