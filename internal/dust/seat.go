package dust

import (
	"math"

	"fitsqa/internal/frames"
)

// Where the grain of a shadow sits.
const (
	onWindow = "sensor window" // or on what else all filters share
	onFilter = "filter"
)

// Flat is the master flat of one filter, all of one camera, small, and its shadows.
type Flat struct {
	Filter  string
	Picture *frames.Preview
	Shadows []Shadow
}

const (
	sharedDepth = 0.6  // of a shadow's depth, from which another flat has it too
	absentDepth = 0.3  // up to which it has not
	finestSeat  = 0.08 // error of that share at which it is known
)

// Seat tells of each flat's shadows where the grain sits, by whether the flats of
// other filters have the same shadow at the same place: the sensor's window where
// all have it, the filter where none has, and nothing where they differ or it
// cannot be known.
func Seat(flats []Flat) {
	maps := make([]residue, len(flats))
	for i, f := range flats {
		m := mapOf(f.Picture)
		maps[i].Map = evened(m, without(m, f.Shadows))
	}
	for i, f := range flats {
		for k := range f.Shadows {
			f.Shadows[k].On = seat(flats, maps, i, k)
		}
	}
}

func seat(flats []Flat, maps []residue, of, shadow int) string {
	here := flats[of]
	w, ok := newWindow(maps[of].Map, here.Shadows[shadow], here.Shadows)
	if !ok {
		return ""
	}
	shared, absent, asked := 0, 0, 0
	for i, other := range flats {
		if other.Filter == here.Filter || maps[i].Width != maps[of].Width || maps[i].Height != maps[of].Height || maps[i].Step != maps[of].Step {
			continue
		}
		asked++
		amplitude, ok := w.amplitude(maps[i].Map, w.i, w.j)
		sigma, _, _, known := maps[i].elsewhere(&w, append(other.Shadows[:len(other.Shadows):len(other.Shadows)], here.Shadows...))
		share := -amplitude // a shadow takes light
		switch {
		case !ok || !known || sigma > finestSeat:
		case share > sharedDepth && share < 1/sharedDepth:
			shared++
		case math.Abs(share) < absentDepth:
			absent++
		}
	}
	switch {
	case asked > 0 && shared == asked:
		return onWindow
	case asked > 0 && absent == asked:
		return onFilter
	}
	return ""
}
