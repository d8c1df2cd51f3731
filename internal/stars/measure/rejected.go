package measure

import (
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
)

// Rejected is a light in a frame that is no star, and why.
type Rejected struct {
	X, Y float64 // px
	Why  string
}

// The reasons.
const (
	pointOfLight = "one or two pixels: a hot pixel or a particle"
	broader      = "broader than a star: nebula, galaxy or track"
	onSpike      = "on the spike of a bright star"
	onTrack      = "on the track of a satellite or a plane"
	onRidge      = "on a ridge of light: a ghost's rim, a spike or nebula"
	secondImage  = "second image of a brighter star"
)

// Rejected lists what the frame measured last shows besides stars.
func (ms *Measurer) Rejected() []Rejected {
	var list []Rejected
	for _, i := range ms.p.Lone {
		list = append(list, Rejected{float64(int(i) % ms.p.W), float64(int(i) / ms.p.W), pointOfLight})
	}
	add := func(all []stars.Star, why string) {
		for _, s := range all {
			list = append(list, Rejected{s.X, s.Y, why})
		}
	}
	add(ms.found.Points, pointOfLight)
	add(ms.found.Broad, broader)
	add(ms.found.Knots, onSpike)
	add(without(ms.found.Stars, slices.Concat(ms.kept, ms.ridges)), onTrack)
	add(ms.ridges, onRidge)
	add(ms.second, secondImage)
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
