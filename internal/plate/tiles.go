package plate

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/catalogue"
)

// tile is a part of the sky that is searched at once: between two declinations and two
// right ascensions, in a circle around ra, dec.
type tile struct {
	ra, dec, radius      float64
	ra0, ra1, dec0, dec1 float64
	fromHint             float64
	sky                  *sky // around it, once a search has asked for it and a deeper one will
}

func (t *tile) holds(ra, dec float64) bool {
	return ra >= t.ra0 && ra < t.ra1 && dec >= t.dec0 && dec < t.dec1
}

// tiles cover the sky within hintRadius of a hint, nearest first, or all of it.
func tiles(h Hint, side float64) []tile {
	var list []tile
	bands := int(math.Ceil(180 / side))
	height := 180 / float64(bands)
	for b := range bands {
		dec0 := -90 + float64(b)*height
		dec := dec0 + height/2
		widest := math.Cos(math.Max(0, math.Abs(dec)-height/2) * rad)
		n := max(1, int(math.Ceil(360*widest/side)))
		width := 360 / float64(n)
		if h.hasPlace() && math.Abs(dec-h.Dec) > hintRadius+height && math.Abs(dec)+height < 90 {
			continue // most of the sky, at no cost
		}
		for c := range n {
			t := tile{ra: (float64(c) + 0.5) * width, dec: dec, ra0: float64(c) * width, ra1: float64(c+1) * width, dec0: dec0, dec1: dec0 + height}
			if b == bands-1 {
				t.dec1 = 91
			}
			t.enclose()
			if h.hasPlace() {
				t.fromHint = catalogue.Separation(t.ra, t.dec, h.RA, h.Dec)
				if t.fromHint > hintRadius+t.radius {
					continue
				}
			}
			list = append(list, t)
		}
	}
	slices.SortStableFunc(list, func(a, b tile) int { return cmp.Compare(a.fromHint, b.fromHint) })
	return list
}

// enclose draws the circle around a tile; around a tile at a pole, the pole is its middle.
func (t *tile) enclose() {
	if t.ra1-t.ra0 >= 180 {
		t.radius = 90 - math.Min(math.Abs(t.dec0), math.Abs(math.Min(t.dec1, 90)))
		t.dec = math.Copysign(90, t.dec)
		return
	}
	for _, ra := range []float64{t.ra0, t.ra1} {
		for _, dec := range []float64{t.dec0, math.Min(90, t.dec1)} {
			t.radius = math.Max(t.radius, catalogue.Separation(t.ra, t.dec, ra, dec))
		}
	}
	// The edge of constant declination bulges out between its ends by less than that.
	t.radius *= 1.02
}
