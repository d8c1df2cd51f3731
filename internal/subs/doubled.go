package subs

import (
	"fmt"
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A jump in the middle of an exposure leaves every star twice, each image as
// round as ever. What gives it away is one offset that most stars share.
const (
	doubleRadius  = 60  // px, largest jump looked for
	doubleBin     = 3.0 // px, how well the offsets have to agree
	doublePrimary = 60  // brightest stars that are asked
	doubleOthers  = 300 // brightest stars that may be their companions
	doubleFewest  = 20  // stars without which nothing can be told
	doubleParts   = 3   // parts of the field along each side
	doubleShare   = 0.4 // of them with a companion at the offset; among 300 stars on a megapixel chance makes it 0.1
)

// companions finds the offset at which most of the brightest stars have another
// star, and the share that has: the lower quartile over the parts of the field,
// so that the row of false stars along a satellite's track does not count.
func companions(f *stars.Field) (dx, dy, share float64) {
	primaries := f.Stars[:min(len(f.Stars), doublePrimary)]
	if len(primaries) < doubleFewest {
		return 0, 0, 0
	}
	others := f.Stars[:min(len(f.Stars), doubleOthers)]
	const cells = 2*doubleRadius/int(doubleBin) + 1
	var count [cells][cells]int
	cell := func(d float64) int { return int(math.Floor((d + doubleRadius) / doubleBin)) }
	for i := range primaries {
		near(primaries, others, i, func(x, y float64) { count[cell(y)][cell(x)]++ })
	}
	best := -1
	for y := 0; y+1 < cells; y++ {
		for x := 0; x+1 < cells; x++ { // four cells, so that no edge splits an offset
			if c := count[y][x] + count[y][x+1] + count[y+1][x] + count[y+1][x+1]; c > best {
				best = c
				dx, dy = float64(x+1)*doubleBin-doubleRadius, float64(y+1)*doubleBin-doubleRadius
			}
		}
	}
	var all, double [doubleParts * doubleParts]float64
	for i, p := range primaries {
		part := doubleParts*partOf(p.Y, f.Height) + partOf(p.X, f.Width)
		has := 0.0
		near(primaries, others, i, func(x, y float64) {
			if math.Abs(x-dx) <= doubleBin && math.Abs(y-dy) <= doubleBin {
				has = 1
			}
		})
		all[part]++
		double[part] += has
	}
	for i := range all {
		double[i] /= max(all[i], 1)
	}
	return dx, dy, stats.Quantile(double[:], 0.25)
}

// partOf is the part of the field, along one side, that a position lies in.
func partOf(x float64, side int) int {
	return min(max(int(doubleParts*(x+0.5)/float64(max(side, 1))), 0), doubleParts-1)
}

// near calls f with the offset of each other star within doubleRadius of
// primary i, turned to point right: either image may be the brighter one.
func near(primaries, others []stars.Star, i int, f func(x, y float64)) {
	for j, o := range others {
		x, y := o.X-primaries[i].X, o.Y-primaries[i].Y
		if x < 0 {
			x, y = -x, -y
		}
		if j != i && x < doubleRadius && math.Abs(y) < doubleRadius {
			f(x, y)
		}
	}
}

// jumped looks for doubled stars. Ghosts of the optics stand at one offset too,
// in every sub of the group, so the group's own share is allowed for.
func (e *evidence) jumped() finding {
	if e.Field == nil || e.base.Clear == 0 {
		return finding{}
	}
	dx, dy, share := companions(e.Field)
	if share-e.base.Doubled < doubleShare {
		return finding{}
	}
	return finding{Trailed, Cull, 2 + share, fmt.Sprintf("%.0f %% of the stars are double, %.0f px apart: the mount jumped; limit %.0f %%",
		100*math.Min(share, 1), math.Hypot(dx, dy), 100*(doubleShare+e.base.Doubled))}
}
