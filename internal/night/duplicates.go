package night

import (
	"cmp"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
)

// findDuplicates marks subs that hold the same pixels as another, whatever their names
// and headers say. Only subs of which a few rows show the same are compared byte by byte.
func (r *Result) findDuplicates() {
	for _, candidates := range partition(measured(r.Subs), func(s *Sub) frames.Shown { return s.Frame.Shown() }) {
		if len(candidates) > 1 {
			r.markCopies(candidates)
		}
	}
}

// markCopies marks all but one of those that are the same: of copies under other settings
// the one stays that has the most subs of its kind beside it.
func (r *Result) markCopies(candidates []*Sub) {
	type kind struct {
		target, filter names.Name
		exposure       float64
	}
	of := func(s *Sub) kind { return kind{s.Target, s.Filter, s.Exposure} }
	beside := map[kind]int{}
	for _, s := range r.Subs {
		beside[of(s)]++
	}
	slices.SortStableFunc(candidates, func(a, b *Sub) int {
		return cmp.Or(cmp.Compare(beside[of(b)], beside[of(a)]), cmp.Compare(a.File, b.File))
	})
	first := map[[32]byte]string{}
	for _, s := range candidates {
		hash, err := s.Frame.ContentHash()
		if err != nil {
			s.fail(err)
			continue
		}
		if earlier, ok := first[hash]; ok {
			s.DuplicateOf = earlier
		} else {
			first[hash] = s.File
		}
	}
}
