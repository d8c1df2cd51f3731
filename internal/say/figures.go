package say

import (
	"sort"

	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

func filtersOf(all []*night.Sub) []names.Name {
	var filters []names.Name
	seen := map[names.Name]bool{}
	for _, s := range all {
		if !seen[s.Filter] && s.Filter != "" {
			seen[s.Filter] = true
			filters = append(filters, s.Filter)
		}
	}
	return filters
}

func figures(all []*night.Sub, of func(*night.Sub) stats.Value) []float64 {
	var list []float64
	for _, s := range all {
		if s.Field == nil {
			continue
		}
		if v := of(s); v.OK() {
			list = append(list, v.V)
		}
	}
	sort.Float64s(list)
	return list
}

// groupOf is the group that a sub was judged in; nil for none.
func groupOf(r *night.Result, s *night.Sub) *subs.Group {
	if r.Verdicts == nil {
		return nil
	}
	for _, g := range r.Verdicts.Groups {
		if g.Stack == s.Stack {
			return g
		}
	}
	return nil
}
