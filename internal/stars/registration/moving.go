package registration

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/figures"
)

// Stars hardly wider than pixels fill one of them or share their light between two or
// four, by where in the pixel their middle falls, so that from sub to sub others look
// like hot pixels and are left out. What the dither moves with the field is a star
// all the same. That subs be dithered to tell the two apart is common practice, no
// source.

const (
	movingReach = 1.0 // px around a star's place in another field within which it is sought
	movingShare = 0.4 // least share of the other fields that show it there, as a star or a point
	movingLooks = 12  // other fields that are asked, spread over the night
	movingLeast = 3   // of these must see its place
	movingAlike = 4.0 // times as bright, or as faint, at most: a pixel's share of a star varies
)

// Moving finds, in fields of one sensor and target, the points of light that were left
// out as hot pixels though other fields have a star or a point at the same place of the
// sky, on another pixel: for each field their numbers in its Points, to be given to
// figures.With; nil when there are none at all. The fields are tied by their stars and
// by what does not stay at its pixel.
func Moving(fields []*stars.Field) [][]int {
	if !slices.ContainsFunc(fields, func(f *stars.Field) bool { return f != nil && len(f.Points) > 0 }) {
		return nil
	}
	loose := withLoose(fields)
	al, _ := Align(loose)
	asked := witnesses(fields, func(i int) bool { return al[i].Matched() })
	for _, w := range asked {
		w.from = al[w.number].Transform.Inverse()
	}
	var out [][]int
	for i, f := range fields {
		if f == nil || !al[i].Matched() {
			continue
		}
		for k := range f.Points {
			if movesWithSky(asked, i, &f.Points[k], al[i].Transform) {
				if out == nil {
					out = make([][]int, len(fields))
				}
				out[i] = append(out[i], k)
			}
		}
	}
	return out
}

// withLoose are the fields with those of their points among the stars that most
// others do not show at the same pixel.
func withLoose(fields []*stars.Field) []*stars.Field {
	asked := witnesses(fields, func(int) bool { return true })
	out := make([]*stars.Field, len(fields))
	for i, f := range fields {
		if f == nil {
			continue
		}
		o := &stars.Field{Width: f.Width, Height: f.Height, Stars: slices.Clone(f.Stars)}
		for _, point := range f.Points {
			stays := 0
			for _, w := range asked {
				if w.number != i && w.shows(point.X, point.Y, point.Flux) {
					stays++
				}
			}
			if 2*stays < len(asked)-1 {
				o.Stars = append(o.Stars, point)
			}
		}
		figures.ByFlux(o.Stars)
		o.Count = len(o.Stars)
		out[i] = o
	}
	return out
}

// witnesses are some of the fields, spread over all that are fit.
func witnesses(fields []*stars.Field, fit func(i int) bool) (asked []*witness) {
	var some []int
	for i, f := range fields {
		if f != nil && fit(i) {
			some = append(some, i)
		}
	}
	for k := range min(movingLooks, len(some)) {
		i := some[k*len(some)/min(movingLooks, len(some))]
		w := &witness{number: i, f: fields[i], from: Identity}
		w.light = append(append(w.light, fields[i].Stars...), fields[i].Points...)
		w.near = stars.NewNeighbours(w.light)
		asked = append(asked, w)
	}
	return asked
}

// witness is a field that is asked what it shows at a place of the sky.
type witness struct {
	number int
	f      *stars.Field
	from   Transform // the reference's pixel -> this field's
	light  []stars.Star
	near   *stars.Neighbours
}

// movesWithSky tells whether enough of the fields show a point of another one, and on
// other pixels.
func movesWithSky(asked []*witness, number int, point *stars.Star, t Transform) bool {
	skyX, skyY := t.Apply(point.X, point.Y)
	looked, seen := 0, 0
	for _, w := range asked {
		x, y := w.from.Apply(skyX, skyY)
		if w.number == number || math.Hypot(x-point.X, y-point.Y) < pointingApart ||
			x < 1 || y < 1 || x > float64(w.f.Width-2) || y > float64(w.f.Height-2) {
			continue
		}
		looked++
		if w.shows(x, y, point.Flux) {
			seen++
		}
	}
	return looked >= movingLeast && float64(seen) >= max(2, movingShare*float64(looked))
}

func (w *witness) shows(x, y, flux float64) (yes bool) {
	w.near.Within(x, y, movingReach, func(k int) {
		ratio := w.light[k].Flux / flux
		yes = yes || ratio < movingAlike && ratio > 1/movingAlike
	})
	return yes
}
