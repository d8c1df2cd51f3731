package ledger

import (
	"slices"

	"fitsqa/internal/names"
)

// Growth is how one target's hours grew over the nights in which it was shot.
type Growth struct {
	Target  names.Name
	Nights  []string // dates, in order
	Filters []FilterGrowth
}

// FilterGrowth is the sum up to and with each of the target's nights.
type FilterGrowth struct {
	Filter names.Name
	Usable []float64 // h, one a night
}

// Growths sums up hours that are sorted as Hours gives them.
func Growths(hours []Hours) (all []Growth) {
	for i := 0; i < len(hours); {
		j := i
		g := Growth{Target: hours[i].Target}
		for ; j < len(hours) && hours[j].Target == g.Target; j++ {
			g.Nights = append(g.Nights, hours[j].Night)
		}
		slices.Sort(g.Nights)
		g.Nights = slices.Compact(g.Nights)
		for _, h := range hours[i:j] {
			if n := len(g.Filters); n == 0 || g.Filters[n-1].Filter != h.Filter {
				g.Filters = append(g.Filters, FilterGrowth{h.Filter, make([]float64, len(g.Nights))})
			}
			at, _ := slices.BinarySearch(g.Nights, h.Night)
			for f := &g.Filters[len(g.Filters)-1]; at < len(f.Usable); at++ {
				f.Usable[at] += h.Usable / 3600
			}
		}
		all, i = append(all, g), j
	}
	return all
}
