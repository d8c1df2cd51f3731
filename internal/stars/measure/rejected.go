package measure

import (
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
)

// Rejected is a light in a frame that is no star, and why.
type Rejected struct {
	X, Y float64 // px
	Why  fact.Code
}

// Rejected lists what the frame measured last shows besides stars.
func (ms *Measurer) Rejected() []Rejected {
	var list []Rejected
	for _, i := range ms.p.Lone {
		list = append(list, Rejected{float64(int(i) % ms.p.W), float64(int(i) / ms.p.W), stars.PointOfLight})
	}
	add := func(all []stars.Star, why fact.Code) {
		for _, s := range all {
			list = append(list, Rejected{s.X, s.Y, why})
		}
	}
	add(ms.found.Points, stars.PointOfLight)
	add(ms.found.Broad, stars.Broader)
	add(ms.found.Knots, stars.OnSpike)
	add(without(ms.found.Stars, slices.Concat(ms.kept, ms.ridges)), stars.OnTrack)
	add(ms.ridges, stars.OnRidge)
	add(ms.second, stars.SecondImage)
	return list
}

// without are the stars of a list that are not in another.
func without(all, others []stars.Star) []stars.Star {
	type place struct{ x, y float64 }
	in := map[place]bool{}
	for _, s := range others {
		in[place{s.X, s.Y}] = true
	}
	var list []stars.Star
	for _, s := range all {
		if !in[place{s.X, s.Y}] {
			list = append(list, s)
		}
	}
	return list
}

// remember what a search found, which of its stars neither track nor ridge took, and
// which a ridge did. Shapes move the stars of the list afterwards.
func (ms *Measurer) remember(found detect.Found, kept, ridges []stars.Star) {
	ms.found, ms.kept, ms.ridges, ms.second = found, slices.Clone(kept), ridges, nil
}
