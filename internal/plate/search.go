package plate

import (
	"context"
	"math"
	"runtime"
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

func (p *search) one(t *tile, scale float64, there int) *Solution {
	reach := p.field.diagonal() * scale * hintScale / 3600 // no quad of the frame is larger, degrees
	near := p.around(t, reach, scale, there)
	area := 2 * math.Pi * (1 - math.Cos(math.Min(180, t.radius+reach)*rad)) / (rad * rad)
	n := int(float64(there) / p.area(scale) * area)
	return p.tile(near, min(n, len(near.at)), t, reach*rad)
}

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
