package dust

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// residue is what the division by a flat left in the background of subs, on
// the cells of their small pictures. The pictures of flat and subs are made
// alike, so that their cells are the same pixels.
type residue struct {
	stats.Map           // median over the subs of the sky over its level, less 1; NaN under stars
	flat      stats.Map // the flat, relative
	flatNoise float64   // of its cells, relative: pixels that answer unlike do so in the subs too, and are none
	subs      []skyCells
}

// skyCells is one sub: its sky over its level, less 1; NaN under stars.
type skyCells struct {
	stats.Map
	*Sub
}

// mostCells bounds the work on pictures of unusual shape.
const mostCells = 1 << 18

// newResidue stacks the subs' backgrounds, or says why it cannot.
func newResidue(flat *frames.Preview, subs []Sub) (*residue, fact.Code) {
	r := &residue{flat: mapOf(flat)}
	if flat.Width < 32 || flat.Height < 32 || flat.Width*flat.Height > mostCells {
		return nil, SmallFrames
	}
	var fit []*Sub
	for i := range subs {
		p := &subs[i]
		if p.Width == flat.Width && p.Height == flat.Height && p.Step == flat.Step {
			fit = append(fit, p)
		}
	}
	slices.SortStableFunc(fit, func(a, b *Sub) int { return cmp.Compare(a.Noise, b.Noise) })
	for _, s := range fit[:min(len(fit), dustSubs)] {
		if m, ok := relativeSky(s); ok {
			r.subs = append(r.subs, skyCells{m, s})
		}
	}
	if len(r.subs) < fewestSubs {
		return nil, FewSubs
	}
	r.stack()
	return r, ""
}

func mapOf(p *frames.Preview) stats.Map {
	m := stats.Map{Width: p.Width, Height: p.Height, Step: p.Step, Values: make([]float64, len(p.Pixels))}
	for i, v := range p.Pixels {
		m.Values[i] = float64(v)
	}
	return m
}

// relativeSky is a sub's picture over the level of its sky, less 1.
func relativeSky(s *Sub) (stats.Map, bool) {
	m := mapOf(s.Preview())
	for _, spot := range s.Stars {
		blank(m, spot)
	}
	level := stats.Median(slices.DeleteFunc(slices.Clone(m.Values), math.IsNaN))
	if !(level > 0) {
		return m, false
	}
	for i := range m.Values {
		m.Values[i] = m.Values[i]/level - 1
	}
	return m, true
}

func blank(m stats.Map, s Spot) {
	step := float64(m.Step)
	reach := s.Radius + step/2 // from its middle, a cell reaches half a step
	x0, x1 := max(0, int((s.X-reach)/step)), min(m.Width-1, int((s.X+reach)/step))
	y0, y1 := max(0, int((s.Y-reach)/step)), min(m.Height-1, int((s.Y+reach)/step))
	for j := y0; j <= y1; j++ {
		for i := x0; i <= x1; i++ {
			x, y := m.Centre(i, j)
			if math.Hypot(x-s.X, y-s.Y) <= reach {
				m.Values[j*m.Width+i] = math.NaN()
			}
		}
	}
}

// stack takes the median over the subs, cell by cell; at least a quarter of
// them must show the sky there.
func (r *residue) stack() {
	r.Map = stats.Map{Width: r.flat.Width, Height: r.flat.Height, Step: r.flat.Step, Values: make([]float64, len(r.flat.Values))}
	values := make([]float64, 0, len(r.subs))
	need := max(3, len(r.subs)/4)
	for i := range r.Values {
		values = values[:0]
		for _, s := range r.subs {
			if v := s.Values[i]; !math.IsNaN(v) {
				values = append(values, v)
			}
		}
		r.Values[i] = math.NaN()
		if len(values) >= need {
			r.Values[i] = stats.MedianInPlace(values)
		}
	}
}

// smooth averages each cell with its eight neighbours: shadows are wider, and
// the noise of cells is not. Where fewer than six are known, nothing is.
func smooth(m stats.Map) stats.Map {
	out := stats.Map{Width: m.Width, Height: m.Height, Step: m.Step, Values: make([]float64, len(m.Values))}
	for j := range m.Height {
		for i := range m.Width {
			sum, n := 0.0, 0.0
			m.Near(i, j, 1, func(_, _ int, v float64) {
				sum += v
				n++
			})
			out.Values[j*m.Width+i] = sum / n
			if edge := i == 0 || j == 0 || i == m.Width-1 || j == m.Height-1; n < 6 && !edge {
				out.Values[j*m.Width+i] = math.NaN()
			}
		}
	}
	return out
}
