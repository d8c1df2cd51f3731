package plate

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync/atomic"

	"fitsqa/internal/catalogue"
	"fitsqa/internal/fact"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stars"
)

// enough is the fewest stars of a frame that single it out among all others.
const enough = 6

// depths are how many stars of the frame make quads, and how many of the catalogue's
// brightest there are in a frame's area at the places where they are compared: first
// for bright stars that both agree on, then for frames whose filter, clouds or
// saturation change the order.
var depths = []struct{ here, there int }{{14, 10}, {22, 18}, {28, 36}}

// depthsFor a hint: over the whole sky only the first, some 25 s on a server's core where it
// finds nothing at any scale; the others did not end in fifteen more.
func depthsFor(h Hint) []struct{ here, there int } {
	if h.hasPlace() {
		return depths
	}
	return depths[:1]
}

// Solve finds a frame on the sky. Without a hinted place it searches the whole sky;
// without a hinted scale, frames from 16 degrees down to 0.2.
func Solve(ctx context.Context, f *stars.Field, h Hint) Solved {
	return solve(ctx, f, h, runtime.GOMAXPROCS(0))
}

func solve(ctx context.Context, f *stars.Field, h Hint, workers int) Solved {
	if f == nil {
		return unsolved(NotMeasured)
	}
	fd := newField(f)
	if len(fd.places) < enough {
		return unsolved(FewStars, fact.Count("stars", len(fd.places)))
	}
	if why := fd.tooNarrow(h); why.Code != "" {
		return Solved{Why: why}
	}
	all := depthsFor(h)
	p := &search{field: fd, ctx: ctx, workers: workers, deepest: all[len(all)-1].there, ground: map[float64][]tile{}}
	for _, depth := range all {
		if s := p.at(h, depth.here, depth.there); s != nil {
			return Solved{Solution: s}
		}
		if ctx.Err() != nil {
			return unsolved(GivenUp)
		}
	}
	return Solved{Why: p.why(h)}
}

// why there is no solution, as far as that is known.
func (p *search) why(h Hint) fact.Fact {
	if n := p.field.expected(h); n < 2*enough {
		return fact.Of(SparseThere, fact.Number("stars", n))
	}
	if h.hasPlace() && !(h.Scale > 0) {
		return fact.Of(NotThereAnyScale, fact.Number("within_deg", hintRadius))
	}
	if h.hasPlace() {
		return fact.Of(NotThere, fact.Number("within_deg", hintRadius))
	}
	return fact.Of(NotAnywhere)
}

// expected is how many catalogue stars a frame has at the hinted place and scale, +Inf
// when they are not known.
func (f *field) expected(h Hint) float64 {
	if !h.hasPlace() || !(h.Scale > 0) {
		return math.Inf(1)
	}
	there := catalogue.Count(h.RA, h.Dec, hintRadius, faintest)
	area := float64(f.width) * float64(f.height) * h.Scale * h.Scale / 3600 / 3600
	return float64(there) / (math.Pi * hintRadius * hintRadius) * area
}

// tooNarrow says why a frame that is hinted to be narrow need not be searched for: where
// even twice the density of stars and the largest scale leave too few.
func (f *field) tooNarrow(h Hint) fact.Fact {
	if n := f.expected(h); 2*n*hintScale*hintScale < enough {
		if n < 1.5 {
			return fact.Of(EmptyField)
		}
		return fact.Of(SparseField, fact.Number("stars", n))
	}
	return fact.Fact{}
}

// search is one frame on its way over the sky.
type search struct {
	field *field
	ctx   context.Context
	tried int // maps proposed so far
	each  int // as how many a proposal counts
	over  func() bool

	workers int                // tiles searched at once
	deepest int                // the most catalogue stars that the search will ask for, as depths tell them
	ground  map[float64][]tile // by scale, once they are needed
	table   *table
	least   float64 // arcsec/px, the range of scales looked for
	large   float64
}

// at searches with so many stars of the frame and of the catalogue.
func (p *search) at(h Hint, here, there int) *Solution {
	pts := p.field.places[:min(here, len(p.field.places))]
	p.table = newTable(frameQuads(pts, 0.08*p.field.diagonal()))
	for _, scale := range p.scales(h) {
		p.least, p.large = scale/hintScale, scale*hintScale
		if s := p.scan(h, scale, there); s != nil || p.ctx.Err() != nil {
			return s
		}
	}
	return nil
}

// scales to look for, arcsec/px: the hint's, else those of fields from wide to narrow.
func (p *search) scales(h Hint) []float64 {
	if h.Scale > 0 && !math.IsInf(h.Scale, 0) {
		return []float64{h.Scale}
	}
	var list []float64
	side := math.Sqrt(float64(p.field.width) * float64(p.field.height))
	for width := 12.0; width > 0.2; width /= hintScale * hintScale {
		list = append(list, width*3600/side)
	}
	return list
}

// abreast is how many tiles are searched side by side, after the nearest: the same
// however many processors there are, so that what is found is the same too.
const abreast = 8

// scan passes the catalogue's quads by the frame's, some tiles at a time.
func (p *search) scan(h Hint, scale float64, there int) *Solution {
	list, known := p.ground[scale]
	if !known {
		list = tiles(h, max(2, math.Sqrt(p.area(scale))))
		p.ground[scale] = list
	}
	for n := 1; len(list) > 0 && p.ctx.Err() == nil; n = abreast {
		n = min(n, len(list))
		if s := p.sideBySide(list[:n], scale, there); s != nil {
			return s
		}
		list = list[n:]
	}
	return nil
}

// sideBySide searches some tiles at once; of several solutions the first tile's counts.
// A tile cannot know how much those before it have tried by then, and takes it for as
// much as itself.
func (p *search) sideBySide(list []tile, scale float64, there int) *Solution {
	parts := make([]search, len(list))
	found := make([]*Solution, len(list))
	var first atomic.Int64 // of the tiles with a solution: what those after it find does not count
	first.Store(int64(len(list)))
	parallel.Items(len(list), p.workers, func(i int) {
		parts[i] = *p
		parts[i].each = i + 1
		parts[i].over = func() bool { return int(first.Load()) < i || p.ctx.Err() != nil }
		if found[i] = parts[i].one(&list[i], scale, there); found[i] == nil {
			return
		}
		for old := first.Load(); int64(i) < old && !first.CompareAndSwap(old, int64(i)); old = first.Load() {
		}
	})
	tried := 0
	for i, s := range found {
		if s != nil {
			return s
		}
		tried += (parts[i].tried - p.tried) / parts[i].each
	}
	p.tried += tried
	return nil
}

// one searches a tile.
func (p *search) one(t *tile, scale float64, there int) *Solution {
	reach := p.field.diagonal() * scale * hintScale / 3600 // no quad of the frame is larger, degrees
	near := p.around(t, reach, scale, there)
	area := 2 * math.Pi * (1 - math.Cos(math.Min(180, t.radius+reach)*rad)) / (rad * rad)
	n := int(float64(there) / p.area(scale) * area)
	return p.tile(near, min(n, len(near.at)), t, reach*rad)
}

// area of the frame at a scale, square degrees.
func (p *search) area(scale float64) float64 {
	w, h := float64(p.field.width)*scale/3600, float64(p.field.height)*scale/3600
	return w * h
}

// around is the sky that a tile's stars make quads with. What deeper searches will ask
// for as well is kept.
func (p *search) around(t *tile, reach, scale float64, there int) *sky {
	// Where there are few stars, three times the mean number leave enough.
	limit := func(there int) float64 {
		return min(faintest, catalogue.LimitFor(3*float64(there)/p.area(scale)))
	}
	near := t.sky
	if near == nil {
		near = newSky(catalogue.Cone(t.ra, t.dec, t.radius+reach, limit(p.deepest))).rise()
	}
	if there < p.deepest {
		t.sky = near
		near = near.downTo(limit(there))
	}
	return near
}

// neighboursOf is how many of its nearest neighbours a catalogue star makes quads with.
const neighboursOf = 6

// tile passes the quads of each of the brightest n stars in a tile with its neighbours.
func (p *search) tile(near *sky, n int, t *tile, reach float64) *Solution {
	// By height above the equator, neighbours are near in the list as well.
	order := make([]int, 0, n)
	for _, i := range near.rising {
		if int(i) < n {
			order = append(order, int(i))
		}
	}
	for k, i := range order {
		if p.over() {
			return nil
		}
		if !t.holds(near.cat[i].RA, near.cat[i].Dec) {
			continue
		}
		others := nearestStars(near, order, k, reach)
		apart := near.chords(append(others, i))
		me := len(others)
		for a := range others {
			for b := range a {
				for c := range b {
					between := [6]float64{apart[me][a], apart[me][b], apart[me][c], apart[a][b], apart[a][c], apart[b][c]}
					if s := p.pass(near, [4]int{i, others[a], others[b], others[c]}, between); s != nil {
						return s
					}
				}
			}
		}
	}
	return nil
}

// nearestStars are the stars nearest to the k-th in order, within reach (a chord).
func nearestStars(near *sky, order []int, k int, reach float64) []int {
	var found [neighboursOf]int
	var dist [neighboursOf]float64
	count := 0
	me := near.at[order[k]]
	limit := reach
	offer := func(i int) {
		d := me.chord(near.at[i])
		if d >= limit {
			return
		}
		at := count
		if count < neighboursOf {
			count++
		} else {
			at--
		}
		for at > 0 && dist[at-1] > d {
			dist[at], found[at] = dist[at-1], found[at-1]
			at--
		}
		dist[at], found[at] = d, i
		if count == neighboursOf {
			limit = dist[neighboursOf-1]
		}
	}
	down, up := k-1, k+1
	for down >= 0 || up < len(order) {
		if down >= 0 {
			if i := order[down]; me[2]-near.at[i][2] < limit {
				offer(i)
				down--
			} else {
				down = -1
			}
		}
		if up < len(order) {
			if i := order[up]; near.at[i][2]-me[2] < limit {
				offer(i)
				up++
			} else {
				up = len(order)
			}
		}
	}
	return append(make([]int, 0, neighboursOf+1), found[:count]...)
}

// chords are the distances of some stars from each other.
func (s *sky) chords(list []int) (between [neighboursOf + 1][neighboursOf + 1]float64) {
	for a, i := range list {
		for b, j := range list[:a] {
			d := s.at[i].chord(s.at[j])
			between[a][b], between[b][a] = d, d
		}
	}
	return between
}

// pass looks one quad of the sky up by the distances between its stars, and tries what
// it proposes.
func (p *search) pass(near *sky, q [4]int, between [6]float64) *Solution {
	s, longest := shapeOf(between)
	if s[4] < minSide {
		return nil
	}
	// What is rounded in an entry leaves out what is out of reach; the rest is compared below.
	const rounding = 1e-5
	arcsec := longest / rad * 3600
	small, large := float32(arcsec/p.large*(1-rounding)), float32(arcsec/p.least*(1+rounding))
	low, high := float32(s[4]-alike-rounding), float32(s[4]+alike+rounding)
	for _, e := range p.table.look(&s) {
		if e.longest < small || e.longest > large || e.shortest < low || e.shortest > high {
			continue
		}
		fq := &p.table.quads[e.quad]
		scale := arcsec / fq.longest
		if scale < p.least || scale > p.large || !s.like(&fq.shape) {
			continue
		}
		here := distances(func(i, j int) float64 {
			a, b := p.field.places[fq.corners[i]], p.field.places[fq.corners[j]]
			return math.Hypot(a.x-b.x, a.y-b.y)
		})
		for _, o := range named(between, here) {
			p.tried += p.each
			var places [4]point
			var at [4]vector
			for i := range 4 {
				at[i], places[i] = near.at[q[i]], p.field.places[fq.corners[o[i]]]
			}
			if got := p.try(near, places, at); got != nil {
				return got
			}
		}
	}
	return nil
}

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
