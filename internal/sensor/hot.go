package sensor

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// hotLimit is how far above the median signal a pixel is hot, ADU: the larger
// of so many robust sigma of the pixels and the signal whose own shot noise
// exceeds the read noise; and whether it was that.
func (cs *Cameras) hotLimit(d *darkRun, m *mode, sigma float64) (limit float64, byShot bool) {
	limit = cs.opt.HotSigma * sigma
	if d.bias != nil && d.bias.readNoise.OK() && m.gain.OK() {
		// signal in electrons = (read noise in electrons)²
		if shot := d.bias.readNoise.V * d.bias.readNoise.V * m.gain.V; shot > limit {
			return shot, true
		}
	}
	return limit, false
}

// glowFloor is the smooth glow under a pixel and how far above it a pixel is
// hot there: where there is glow its shot noise widens what is normal, and a
// glowing corner is no crowd of hot pixels.
type glowFloor struct {
	m      stats.Map
	spread []float64 // robust sigma of the cells' pixels, ADU
	limit  float64
	sigma  float64 // times spread
}

func (g *glowFloor) at(x, y int) (floor, limit float64) {
	// Bilinear between the centres of the cells.
	fx := min(max((float64(x)+0.5)/float64(g.m.Step)-0.5, 0), float64(g.m.Width-1))
	fy := min(max((float64(y)+0.5)/float64(g.m.Step)-0.5, 0), float64(g.m.Height-1))
	i, j := min(int(fx), max(g.m.Width-2, 0)), min(int(fy), max(g.m.Height-2, 0))
	i1, j1 := min(i+1, g.m.Width-1), min(j+1, g.m.Height-1)
	u, v := fx-float64(i), fy-float64(j)
	floor = (1-v)*((1-u)*g.m.At(i, j)+u*g.m.At(i1, j)) + v*((1-u)*g.m.At(i, j1)+u*g.m.At(i1, j1))
	widest := max(g.spread[j*g.m.Width+i], g.spread[j*g.m.Width+i1], g.spread[j1*g.m.Width+i], g.spread[j1*g.m.Width+i1])
	return floor, max(g.limit, g.sigma*widest)
}

// glowUnder is nil where the set has no glow.
func (d *darkRun) glowUnder(signal []float32, limit, sigma float64) *glowFloor {
	m := d.detail.Glow
	if d.glow.place == "" {
		return nil
	}
	width := d.group.Width
	height := len(signal) / width
	g := &glowFloor{m: m, spread: make([]float64, len(m.Values)), limit: limit, sigma: sigma}
	for j := range m.Height {
		for i := range m.Width {
			var cell []float32
			for y := j * m.Step; y < min(height, (j+1)*m.Step); y++ {
				cell = append(cell, signal[y*width+i*m.Step:y*width+min(width, (i+1)*m.Step)]...)
			}
			g.spread[j*m.Width+i] = stats.MADSigma(cell)
		}
	}
	return g
}

// findHot counts, as far below the median, those that only jump (telegraph noise): as many
// of them are above it. It lists the pixels that stand above the limit in the master, from
// which single particle hits have been left out already, and in most of the
// last frames of the series: there half the limit is enough, so that the
// frames' noise does not lose pixels just above it.
func (d *darkRun) findHot(cs *Cameras, signal []float32, below *stack.Plane, median, limit, sigma float64) {
	workers := max(1, cs.opt.Workers)
	parts := make([][]hotCandidate, workers)
	glow := d.glowUnder(signal, limit, cs.opt.HotSigma)
	parallel.Ranges(len(signal), workers, func(w, from, to int) {
		lowest, highest := float32(median+limit), float32(median-limit)
		for i := from; i < to; i++ {
			if signal[i] < highest {
				parts[w] = append(parts[w], hotCandidate{int32(i), float32(median - limit/2), true})
			}
			if !(signal[i] > lowest) {
				continue
			}
			floor, above := 0.0, limit
			if glow != nil {
				if floor, above = glow.at(i%d.group.Width, i/d.group.Width); float64(signal[i]) <= median+floor+above {
					continue
				}
			}
			parts[w] = append(parts[w], hotCandidate{int32(i), float32(median + floor + above/2), false})
		}
	})
	d.hot, d.detail.ColdCount = d.confirm(cs, slices.Concat(parts...), below)
	d.rateHot(cs, signal, median, limit, sigma, glow)
	d.detail.HotCount = len(d.hot)
	d.detail.Threshold = (median + limit) / d.group.Exposure
	list := slices.Clone(d.hot)
	if !cs.opt.AllHot && len(list) > hotListed {
		slices.SortFunc(list, func(i, j int32) int { return cmp.Compare(signal[j], signal[i]) })
		list = list[:hotListed]
		slices.Sort(list)
	}
	gain := 1.0
	d.detail.RateUnit = "ADU/s"
	if m := cs.modeOf(d.group); m.gain.OK() {
		gain, d.detail.RateUnit = m.gain.V, "e-/s"
	}
	width := int32(d.group.Width)
	for _, i := range list {
		d.detail.Hot = append(d.detail.Hot, HotPixel{
			X: int(i % width), Y: int(i / width), Rate: float64(signal[i]) * gain / d.group.Exposure})
	}
}

// rateStep is the width of the classes in which hot pixels are counted.
const rateStep = 1.02

// rateHot counts by their rate the hot pixels and, below their limit, those
// that stand above the master's noise.
func (d *darkRun) rateHot(cs *Cameras, signal []float32, median, limit, sigma float64, glow *glowFloor) {
	width := d.group.Width
	above := func(i int32) float64 {
		floor := 0.0
		if glow != nil {
			floor, _ = glow.at(int(i)%width, int(i)/width)
		}
		return float64(signal[i]) - median - floor
	}
	classes := map[int]int{}
	count := func(i int32) { classes[int(math.Round(math.Log(above(i))/math.Log(rateStep)))]++ }
	for _, i := range d.hot {
		count(i)
	}
	if warm := cs.opt.HotSigma * sigma; glow == nil && warm < limit {
		for i, v := range signal {
			if x := float64(v) - median; x > warm && x <= limit {
				count(int32(i))
			}
		}
	}
	gain := 1.0
	if m := cs.modeOf(d.group); m.gain.OK() {
		gain = m.gain.V
	}
	for _, k := range slices.Sorted(maps.Keys(classes)) {
		d.detail.HotRates = append(d.detail.HotRates, HotRate{math.Pow(rateStep, float64(k)) * gain / d.group.Exposure, classes[k]})
	}
}

// hotListed is how many hot pixels are listed when neither full maps nor masters are asked for.
const hotListed = 1000

// hotCandidate is a pixel that is hot in the master, or as far below the median, and the
// signal that it must be above, or below, in most frames, ADU.
type hotCandidate struct {
	pixel int32
	level float32
	cold  bool
}

// confirmFrames is in how many frames candidates are looked up.
const confirmFrames = 9

// confirm keeps the candidates that stand above their level, or below it, in more than half
// of up to nine frames spread over the series. One frame confirms nothing.
func (d *darkRun) confirm(cs *Cameras, candidates []hotCandidate, below *stack.Plane) (hot []int32, cold int) {
	some := d.Frames
	if n := len(some); n > confirmFrames {
		some = nil
		for i := range confirmFrames {
			some = append(some, d.Frames[i*n/confirmFrames])
		}
	}
	beyond, under := make([]int, len(candidates)), make([]float32, len(candidates))
	for i, c := range candidates {
		if below != nil {
			under[i] = below.Strip(int(c.pixel), 1)[0]
		}
	}
	if len(some) > 1 && len(candidates) > 0 {
		cs.stacker.Expect(len(some))
		if _, _, err := cs.stacker.Stream(some, func(unit stack.Scale, _ *stack.Sample, batch []*stack.Sample) {
			for _, s := range batch {
				for i, c := range candidates {
					v := float32(unit.Zero + unit.Step*float64(s.X[c.pixel]))
					if below != nil {
						v = (v - under[i]) * float32(d.stretch)
					}
					if v > c.level && !c.cold || v < c.level && c.cold { // neither, where there is no number
						beyond[i]++
					}
				}
			}
		}); err != nil {
			return nil, 0
		}
	}
	for i, c := range candidates {
		switch {
		case len(some) > 1 && 2*beyond[i] <= len(some):
		case c.cold:
			cold++
		default:
			hot = append(hot, c.pixel)
		}
	}
	return hot, cold
}
