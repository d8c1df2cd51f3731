package subs

import (
	"fmt"
	"math"

	"fitsqa/internal/stars"
)

// A jump in the middle of an exposure leaves every star twice, each image as
// round as ever. What gives it away is one offset that most stars share.
const (
	doubleRadius  = 60  // px, largest jump looked for
	doubleBin     = 3.0 // px, how well the offsets have to agree
	doublePrimary = 60  // brightest stars that are asked
	doubleOthers  = 300 // brightest stars that may be their companions
	doubleFewest  = 20  // stars without which nothing can be told
	doubleShare   = 0.4 // of them with a companion at the offset; among 300 stars on a megapixel chance makes it 0.1
)

// companions finds the offset at which most of the brightest stars have another
// star, and the share that has.
func companions(f *stars.Field) (dx, dy, share float64) {
	n := min(len(f.Stars), doublePrimary)
	if n < doubleFewest {
		return 0, 0, 0
	}
	const cells = 2*doubleRadius/int(doubleBin) + 1
	var count [cells][cells]int
	cell := func(d float64) int { return int(math.Floor((d + doubleRadius) / doubleBin)) }
	for i, p := range f.Stars[:n] {
		for j, q := range f.Stars[:min(len(f.Stars), doubleOthers)] {
			x, y := q.X-p.X, q.Y-p.Y
			if x < 0 { // either image may be the brighter one
				x, y = -x, -y
			}
			if j != i && x < doubleRadius && math.Abs(y) < doubleRadius {
				count[cell(y)][cell(x)]++
			}
		}
	}
	best := 0
	for y := 0; y+1 < cells; y++ {
		for x := 0; x+1 < cells; x++ { // four cells, so that no edge splits an offset
			if c := count[y][x] + count[y][x+1] + count[y+1][x] + count[y+1][x+1]; c > best {
				best = c
				dx, dy = float64(x+1)*doubleBin-doubleRadius, float64(y+1)*doubleBin-doubleRadius
			}
		}
	}
	return dx, dy, float64(best) / float64(n)
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
