package worth

import (
	"math"

	"fitsqa/internal/stats"
)

// trial is a glow of one size in a zone, e-: its height at the highest cell, how far that
// may be off by chance and by the slope of the sky, and how much of what the cells do it
// explains, in their variances.
type trial struct {
	scale, height, chance, wrong, explained float64
}

func (f trial) err() float64 { return math.Hypot(f.chance, f.wrong) }

// likeliest of the sure trials is the one that explains most; -1 when none is sure.
func likeliest(trials []trial) int {
	best := -1
	for i, f := range trials {
		if f.height > glowSure*f.chance && f.height > 3*f.err() && (best < 0 || f.explained > trials[best].explained) {
			best = i
		}
	}
	return best
}

// still is the glow of a zone by what does not move with the sky; missing, with a limit,
// where none is sure.
func (s *Seen) still(z zone, m motion) (SeenGlow, []trial) {
	best := SeenGlow{Height: stats.Missing(NoneSure), AtMost: math.Inf(1), Place: z.at}
	cells := s.within(z, outerZone)
	if len(m.less) < fewestTied || len(cells) < 2*fewestSky {
		return best, nil
	}
	limit := 0.0
	var trials []trial
	for _, scale := range glowScales {
		if scale*float64(s.frameWidth) < fewestCells*float64(s.frameWidth)/float64(s.cols) {
			continue
		}
		f := m.height(s, s.shape(z, scale), cells)
		f.scale = scale
		limit = max(limit, f.height+3*f.err())
		trials = append(trials, f)
	}
	if i := likeliest(trials); i >= 0 {
		f := trials[i]
		best.Height = stats.Known(f.height, math.Hypot(f.err(), shapeShare*f.height), len(m.less))
		best.AtMost = f.height + 3*best.Height.Err
		best.Area = s.halfArea(s.shape(z, f.scale))
	} else if !math.IsNaN(limit) {
		best.AtMost = limit
		best.Area = s.halfArea(s.shape(z, glowScales[0]))
	}
	return best, trials
}

// shape of a glow in a zone, of height 1 at its highest cell.
func (s *Seen) shape(z zone, scale float64) []float64 {
	shape := make([]float64, len(s.maps[0].levels))
	top := 0.0
	for c := range shape {
		x, y := z.off(s.share(c))
		y *= float64(s.frameHeight) / float64(s.frameWidth)
		shape[c] = math.Exp(-(x*x + y*y) / (2 * scale * scale))
		top = max(top, shape[c])
	}
	for c := range shape {
		shape[c] /= max(top, 1e-300)
	}
	return shape
}

// halfArea is how much of the frame a shape covers down to half its height, px.
func (s *Seen) halfArea(shape []float64) float64 {
	n := 0.0
	for _, v := range shape {
		if v >= 0.5 {
			n++
		}
	}
	return n / float64(len(shape)) * float64(s.frameWidth*s.frameHeight)
}

// shapeShare is how much of a glow's height its true shape may change (own estimate, by the
// heights that neighbouring scales give).
const shapeShare = 0.1

// fewestCells is how many cells a glow's sigma must span, so that it is no chance of one.
const fewestCells = 1.2
