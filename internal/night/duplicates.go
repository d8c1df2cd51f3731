package night

import (
	"cmp"
	"slices"
)

// findDuplicates marks subs that hold the same pixels as an earlier one. Only
// subs that agree in everything measured are compared byte by byte: sky and noise alone
// come in steps, and in a long night many of other pixels share them.
func (r *Result) findDuplicates() {
	type figures struct {
		w, h, stars      int
		sky, noise       float64
		x, y, flux, peak float64 // of the first star
	}
	same := partition(measured(r.Subs), func(s *Sub) figures {
		f := figures{w: s.Width, h: s.Height, stars: s.Field.Count, sky: s.Field.Sky.V, noise: s.Field.Noise.V}
		if len(s.Field.Stars) > 0 {
			first := &s.Field.Stars[0]
			f.x, f.y, f.flux, f.peak = first.X, first.Y, first.Flux, first.Peak
		}
		return f
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
