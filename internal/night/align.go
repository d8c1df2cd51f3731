package night

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/names"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/tie"
)

// align ties the subs of each target together, takes off their stars what stays
// at its pixels while the field moves, adds what looked like a hot pixel and moves
// with it, and compares their light group by group.
// Subs of different cameras or sizes are never compared.
func (r *Result) align(known *memory) {
	for _, same := range sameFields(r.Subs) {
		known.tie(same)
	}
}

// tieTogether aligns subs of one target and compares their light.
func tieTogether(same []*Sub) {
	all := fields(same)
	alignments, _ := tie.Align(all)
	if fixed := tie.FixedPoints(all, alignments); fixed != nil {
		for i, s := range same {
			s.fixed = fixed[i]
			figures.Without(s.Field, s.fixed)
		}
		alignments, _ = tie.Align(all)
	}
	if moving := tie.Moving(all); moving != nil {
		for i, s := range same {
			s.moving = moving[i]
			figures.With(s.Field, s.moving)
		}
		alignments, _ = tie.Align(all)
	}
	for i, s := range same {
		s.Align = alignments[i]
		s.Align.RotationDeg.V += 0 // the cache would turn a rotation of -0 into 0
	}
	// Light can be compared through one filter only; different exposures
	// and gains are scaled to the first sub's.
	for _, group := range partition(same, func(s *Sub) names.Name { return s.Filter }) {
		al := make([]tie.Alignment, len(group))
		scale := make([]float64, len(group))
		for i, s := range group {
			al[i] = s.Align
			scale[i] = lightScale(s, group[0])
		}
		for i, t := range tie.Transparencies(fields(group), al, scale) {
			group[i].Transparency = t
		}
	}
}

// sameFields are the measured subs that can be tied together: those of one
// target, camera and size.
func sameFields(all []*Sub) [][]*Sub {
	type field struct {
		target, camera names.Name
		width, height  int
	}
	return partition(measured(all), func(s *Sub) field { return field{s.Target, s.Camera, s.Width, s.Height} })
}

// lightScale is how many times more ADU one photon rate gives in s than in
// first, as far as exposure and gain are known.
func lightScale(s, first *Sub) float64 {
	scale := s.Exposure / first.Exposure
	if !(scale > 0) || math.IsInf(scale, 0) {
		scale = 1
	}
	if gain := first.ElectronsPerADU / s.ElectronsPerADU; gain > 0 && !math.IsInf(gain, 0) {
		scale *= gain
	}
	return scale
}

// partition splits subs by a property, in the order of first appearance.
func partition[K comparable](all []*Sub, key func(*Sub) K) [][]*Sub {
	index := map[K]int{}
	var parts [][]*Sub
	for _, s := range all {
		k := key(s)
		i, ok := index[k]
		if !ok {
			i = len(parts)
			index[k] = i
			parts = append(parts, nil)
		}
		parts[i] = append(parts[i], s)
	}
	return parts
}

// measured keeps the subs that have a measured field.
func measured(all []*Sub) []*Sub {
	return slices.DeleteFunc(slices.Clone(all), func(s *Sub) bool { return s.Field == nil })
}

func fields(all []*Sub) []*stars.Field {
	fs := make([]*stars.Field, len(all))
	for i, s := range all {
		fs[i] = s.Field
	}
	return fs
}

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
