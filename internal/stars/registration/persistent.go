package registration

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A hot pixel that got past the detection (two side by side, or in an
// undersampled image one that looks like a star) stays at its pixel while the
// field moves over the sensor from sub to sub. No star does: a star is at one
// pixel only as long as the telescope points alike. Subs that left it out as a hot
// pixel show it there all the same. That subs be dithered to tell the two apart is
// common practice, no source.

const (
	fixedReach     = 0.7  // px around its place within which a fixed point is found
	fixedShare     = 0.25 // least share of the subs that show it: some look like a star now and then only
	fixedPointings = 3    // different pointings that must show it: one star makes one, two stars by chance two
	pointingApart  = 2.0  // px between different pointings
)

// fixedPoint is a place on the sensor where many fields have a detection.
type fixedPoint struct {
	x, y float64
	hits []hit
}

// hit is one detection: number of the field and of its star, or noStar where it is one
// of the field's Points.
type hit struct {
	field, star int
	flux        float64
}

const noStar = -1

// FixedPoints finds the points of light that stay at the same pixels while the
// field moves, in fields of one sensor and target: for each field the numbers of
// its stars that are none, to be given to Without; nil when there are none at all.
// Nothing is found unless the fields lie in three different places 2 px apart. al
// is what Align made of the fields; once stars are taken off it is out of date.
func FixedPoints(fields []*stars.Field, al []Alignment) [][]int {
	places := fixedPlaces(fields)
	if len(places) == 0 {
		return nil
	}
	if !moves(fields, al) {
		// Fixed points may have been taken for the field itself.
		var ok bool
		if al, ok = alignOthers(fields, places); !ok {
			return nil
		}
	}
	var density, most float64 // of detections, px^-2
	for _, f := range fields {
		if f != nil {
			most = max(most, float64(len(f.Stars)))
			density = max(density, float64(len(f.Stars)+len(f.Points))/(float64(f.Width)*float64(f.Height)))
		}
	}
	var drop [][]int
	for _, p := range places {
		all, seen := p.pointings(fields, al)
		// Different stars come to one place by chance too: Poisson's law.
		chance := density * math.Pi * fixedReach * fixedReach
		if seen < fixedPointings || stats.PoissonTail(seen, chance*float64(all))*most > 0.01 {
			continue
		}
		if drop == nil {
			drop = make([][]int, len(fields))
		}
		usual := p.usualFlux()
		for _, h := range p.hits {
			// A star that happens to pass over the place outshines it.
			if h.star == noStar || h.flux > 2*usual && paired(&al[h.field], h.star) {
				continue
			}
			drop[h.field] = append(drop[h.field], h.star)
		}
	}
	for _, d := range drop {
		slices.Sort(d)
	}
	return drop
}

// fixedPlaces finds the places where at least fixedShare of the fields have a
// detection, and one of them a star.
func fixedPlaces(fields []*stars.Field) []fixedPoint {
	n := 0
	for _, f := range fields {
		if f != nil && len(f.Stars) > 0 {
			n++
		}
	}
	if n < fixedPointings {
		return nil
	}
	need := max(fixedPointings, fixedShare*float64(n))
	list, from := crowded(fields, need)
	index := stars.NewNeighbours(list)
	taken := make([]bool, len(list))
	var places []fixedPoint
	for i := range list {
		if taken[i] {
			continue
		}
		at, group := groupAround(index, list, taken, i)
		if float64(len(group)) < need || !slices.ContainsFunc(group, func(j int) bool { return from[j].star != noStar }) {
			continue
		}
		p := fixedPoint{x: at[0], y: at[1]}
		for _, j := range group {
			taken[j] = true
			p.hits = append(p.hits, from[j])
		}
		places = append(places, p)
	}
	return places
}

// groupAround is the middle of the detections around one of the list, and which of
// those not taken are within fixedReach of it, sorted.
func groupAround(index *stars.Neighbours, list []stars.Star, taken []bool, i int) (at [2]float64, group []int) {
	at = [2]float64{list[i].X, list[i].Y}
	for range 2 { // the second time around the middle of the first
		group = group[:0]
		var xs, ys []float64
		index.Within(at[0], at[1], fixedReach, func(j int) {
			if !taken[j] {
				group = append(group, j)
				xs, ys = append(xs, list[j].X), append(ys, list[j].Y)
			}
		})
		if len(group) == 0 {
			break
		}
		at = [2]float64{stats.Median(xs), stats.Median(ys)}
	}
	slices.Sort(group)
	return at, group
}

// moves tells whether the fields lie apart enough to tell the sensor from the sky.
func moves(fields []*stars.Field, al []Alignment) bool {
	for _, f := range fields {
		if f != nil {
			middle := fixedPoint{x: float64(f.Width) / 2, y: float64(f.Height) / 2}
			all, _ := middle.pointings(fields, al)
			return all >= fixedPointings
		}
	}
	return false
}

// pointings counts the different places of the sky that a point of the sensor
// sees in all the fields, and in those that have a detection there.
func (p *fixedPoint) pointings(fields []*stars.Field, al []Alignment) (all, seen int) {
	apart := func(places [][2]float64, i int) [][2]float64 {
		x, y := al[i].Transform.Apply(p.x, p.y)
		for _, o := range places {
			if math.Hypot(o[0]-x, o[1]-y) < pointingApart {
				return places
			}
		}
		return append(places, [2]float64{x, y})
	}
	var every, hits [][2]float64
	for i := range fields {
		if al[i].Matched() {
			every = apart(every, i)
		}
	}
	for _, h := range p.hits {
		if al[h.field].Matched() {
			hits = apart(hits, h.field)
		}
	}
	return len(every), len(hits)
}

func (p *fixedPoint) usualFlux() float64 {
	var v []float64
	for _, h := range p.hits {
		v = append(v, h.flux)
	}
	return stats.Median(v)
}

// paired tells whether a star was found in the reference field too.
func paired(al *Alignment, star int) bool {
	return slices.ContainsFunc(al.Pairs, func(p [2]int) bool { return p[0] == star })
}

// alignOthers ties the fields by what is not at fixed places: at first a few of
// them, and all when these show the field to move; false when it does not. Its
// pairs are numbered as the stars of the fields are.
func alignOthers(fields []*stars.Field, places []fixedPoint) ([]Alignment, bool) {
	fixed := make([]map[int]bool, len(fields))
	for i := range fixed {
		fixed[i] = map[int]bool{}
	}
	for _, p := range places {
		for _, h := range p.hits {
			fixed[h.field][h.star] = true
		}
	}
	others := make([]*stars.Field, len(fields))
	number := make([][]int, len(fields)) // of the stars that are left
	var some []*stars.Field
	for i, f := range fields {
		if f == nil {
			continue
		}
		o := &stars.Field{Width: f.Width, Height: f.Height}
		for k, st := range f.Stars {
			if !fixed[i][k] {
				o.Stars = append(o.Stars, st)
				number[i] = append(number[i], k)
			}
		}
		o.Count = len(o.Stars)
		others[i] = o
		if len(some) < fixedPointings+1 && i >= len(some)*len(fields)/(fixedPointings+1) {
			some = append(some, o)
		}
	}
	if al, _ := Align(some); !moves(some, al) {
		return nil, false
	}
	al, _ := Align(others)
	for i := range al {
		for k := range al[i].Pairs {
			al[i].Pairs[k][0] = number[i][al[i].Pairs[k][0]]
		}
	}
	return al, moves(others, al)
}
