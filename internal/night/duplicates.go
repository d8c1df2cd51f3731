package night

import (
	"cmp"
	"slices"
)

// findDuplicates marks subs that hold the same pixels as an earlier one. Only
// subs that agree in everything measured are compared byte by byte.
func (r *Result) findDuplicates() {
	type figures struct {
		w, h, stars int
		sky, noise  float64
	}
	same := partition(measured(r.Subs), func(s *Sub) figures {
		return figures{s.Width, s.Height, s.Field.Count, s.Field.Sky.V, s.Field.Noise.V}
	})
	for _, candidates := range same {
		if len(candidates) < 2 {
			continue
		}
		first := map[[32]byte]string{}
		slices.SortStableFunc(candidates, func(a, b *Sub) int { return cmp.Compare(a.File, b.File) })
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
}
