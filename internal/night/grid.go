package night

import (
	"math"

	"fitsqa/internal/stats"
)

// grid finds the distance between the samples of a raw sub, on some of its rows.
type grid struct {
	values *stats.Histogram
	every  int  // of so many rows one is looked at
	off    bool // a sample is no whole number of 16 bits: there is no grid, or none that shows
}

// Of gridRows rows one is looked at, of more in frames of many rows: gridMost are plenty.
const gridRows, gridMost = 16, 24

// By chance a few values, fewValues, lie on a coarser grid, unless two that a share of the
// samples have, often, lie next to one another on it: noise that often reaches both leaves
// none out between.
const (
	fewValues = 10
	often     = 0.01
)

// reset begins a frame of so many rows.
func (g *grid) reset(height int) {
	g.every = max(gridRows, height/gridMost)
	if g.values == nil {
		g.values = stats.NewHistogram(math.MinInt16, math.MaxUint16)
	}
	clear(g.values.Counts)
	g.off = false
}

// add takes rows of width from row first on. NaN, which stands for what was not
// measured, tells nothing.
func (g *grid) add(rows []float32, first, width int) {
	for y := (g.every - first%g.every) % g.every; !g.off && (y+1)*width <= len(rows); y += g.every {
		for _, v := range rows[y*width : (y+1)*width] {
			switch whole := int(v); {
			case v != v:
			case float32(whole) != v || whole < math.MinInt16 || whole > math.MaxUint16:
				g.off = true
				return
			default:
				g.values.Add(whole)
			}
		}
	}
}

// step is the distance, ADU; 0 when there is none, or it is not known.
func (g *grid) step() float64 {
	n, samples := 0, 0
	for _, c := range g.values.Counts {
		if c > 0 {
			n, samples = n+1, samples+int(c)
		}
	}
	step := g.values.Step()
	if g.off || n < fewValues && step != g.apart(often*float64(samples)) {
		return 0
	}
	return float64(step)
}

// apart is the least distance between values that at least so many samples have; -1 without two of these.
func (g *grid) apart(samples float64) int {
	least, last := -1, -1
	for i, c := range g.values.Counts {
		if float64(c) >= samples {
			if last >= 0 && (least < 0 || i-last < least) {
				least = i - last
			}
			last = i
		}
	}
	return least
}
