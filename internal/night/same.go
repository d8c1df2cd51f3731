package night

import (
	"cmp"
	"slices"

	"fitsqa/internal/names"
	"fitsqa/internal/stars"
)

// sameFields are the measured subs that can be tied together: those of one
// target, camera and size.
func sameFields(all []*Sub) [][]*Sub {
	type field struct {
		target, camera names.Name
		width, height  int
	}
	return partition(measured(all), func(s *Sub) field { return field{s.Target, s.Camera, s.Width, s.Height} })
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

// inOrder is the order of shooting: by start, then by name.
func inOrder(a, b *Sub) int { return cmp.Or(a.Start.Compare(b.Start), names.Natural(a.File, b.File)) }

// without are the subs of a list that are not among others.
func without(list, others []*Sub) []*Sub {
	return slices.DeleteFunc(slices.Clone(list), func(s *Sub) bool { return slices.Contains(others, s) })
}

// tiedOf are the subs of a list that are tied to its reference.
func tiedOf(list []*Sub) []*Sub {
	return slices.DeleteFunc(slices.Clone(list), func(s *Sub) bool { return !s.Align.Matched() })
}
