package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// A glow is a patch of cells that touch, glowCells at least, each edgeSigma above
// the plane through the map and one of them glowSigma: noise alone reaches 3.2
// sigma somewhere among a thousand cells, but not in neighbours. It grows with
// the exposure.
const (
	glowSigma = 6
	edgeSigma = 3
	glowCells = 3
)

// measureGlow looks for local glow in the map of dark signal, and keeps what
// tells a light leak.
func (d *darkRun) measureGlow(signal []float32, sigma float64, workers int) {
	width := d.group.Width
	m := coarse(signal, width, 1, workers)
	floor := stats.Median(m.Values)
	d.cellNoise = max(cellNoise(m), stats.MedianErr*sigma/float64(m.Step))
	d.ramp = m.FitPlane()
	n := len(d.Frames)
	if best, patch := d.patch(m); !d.above() {
		d.glow = noGlow(NothingBelow)
	} else if best < 0 {
		d.glow = noGlow(NoGlow, fact.Number("at_most_adu", glowSigma*d.cellNoise))
	} else {
		i, j := best%m.Width, best/m.Width
		half := float64(m.Step) / 2
		d.glow = glow{
			height: stats.Known(m.Values[best]-floor, d.cellNoise, n),
			x:      stats.Known(float64(cellFrom(i, m.Step, width))+half-0.5, half/math.Sqrt(3), n),
			y:      stats.Known(float64(cellFrom(j, m.Step, len(signal)/width))+half-0.5, half/math.Sqrt(3), n),
			place:  placeOf(m, patch, m.Values[best]),
			cell:   best,
		}
	}
	d.detail.GlowPlace = d.glow.place
	for i := range m.Values {
		m.Values[i] -= floor
	}
	d.detail.Glow = m
}

// glowlessPixels of a large frame are enough for a spread: it is known to a thousandth.
const glowlessPixels = 2_000_000

// rampErr is the error of the gradient, ADU: a plane's slope from k cells is known to
// sqrt(12/k) of a cell's noise.
func (d *darkRun) rampErr() float64 {
	return d.cellNoise * math.Sqrt(24/float64(len(d.detail.Glow.Values)))
}

// offRamp counts the pixels about the gradient across the frame, in the bins that all were
// counted in.
func (d *darkRun) offRamp(signal []float32, all Counts) Counts {
	width := d.group.Width
	height := len(signal) / width
	h := stats.NewHistogram(-1<<17, 1<<17)
	row := make([]float32, width)
	every := max(1, len(signal)/glowlessPixels) | 1 // rows of both parities
	for y := 0; y < height; y += every {
		v := (float64(y)+0.5)/float64(height) - 0.5
		for x, s := range signal[y*width:][:width] {
			row[x] = s - float32(d.ramp.At((float64(x)+0.5)/float64(width)-0.5, v)-d.ramp.At(0, 0))
		}
		countSpread(h, row, all.Offset, all.Unit)
	}
	return Counts{h, all.Unit, all.Offset}
}

// offGlow counts the pixels of cells at the level of the frame's floor, in the bins that
// all were counted in, or of all where a glow leaves less than a tenth of the cells.
func (d *darkRun) offGlow(signal []float32, all Counts) Counts {
	m, width := d.detail.Glow, d.group.Width
	h := stats.NewHistogram(-1<<17, 1<<17)
	cells := 0
	every := max(1, len(signal)/glowlessPixels) | 1 // rows of both parities
	for c, v := range m.Values {
		if math.Abs(v) > edgeSigma*d.cellNoise {
			continue
		}
		cells++
		x := cellFrom(c%m.Width, m.Step, width)
		y := cellFrom(c/m.Width, m.Step, len(signal)/width)
		for row := y; row < min(y+m.Step, len(signal)/width); row += every {
			countSpread(h, signal[row*width+x:row*width+min(x+m.Step, width)], all.Offset, all.Unit)
		}
	}
	if 10*cells < len(m.Values) {
		return all
	}
	return Counts{h, all.Unit, all.Offset}
}

// placeOf is where the middle of a patch is, of its cells that stand half as high as the
// highest: the highest of a glowing edge is in a corner by chance.
func placeOf(m stats.Map, patch []int, highest float64) fact.Code {
	floor := stats.Median(m.Values)
	var x, y []float64
	for _, c := range patch {
		if m.Values[c]-floor >= (highest-floor)/2 {
			x, y = append(x, float64(c%m.Width)), append(y, float64(c/m.Width))
		}
	}
	return place(m, int(stats.Mean(x)+0.5), int(stats.Mean(y)+0.5))
}

// patch is the highest cell of the most significant patch, and all its cells; -1 when there
// is none.
func (d *darkRun) patch(m stats.Map) (best int, patch []int) {
	above := func(c int) float64 {
		i, j := c%m.Width, c/m.Width
		return m.Values[c] - d.ramp.At((float64(i)+0.5)/float64(m.Width)-0.5, (float64(j)+0.5)/float64(m.Height)-0.5)
	}
	seen := make([]bool, len(m.Values))
	best = -1
	highest := glowSigma * d.cellNoise
	for start := range m.Values {
		if seen[start] || above(start) < edgeSigma*d.cellNoise {
			continue
		}
		cells := []int{start}
		seen[start] = true
		for k := 0; k < len(cells); k++ {
			i, j := cells[k]%m.Width, cells[k]/m.Width
			for _, o := range [8][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}} {
				if !m.Inside(i+o[0], j+o[1]) {
					continue
				}
				if c := (j+o[1])*m.Width + i + o[0]; !seen[c] && above(c) >= edgeSigma*d.cellNoise {
					seen[c] = true
					cells = append(cells, c)
				}
			}
		}
		if len(cells) < glowCells {
			continue
		}
		for _, c := range cells {
			if v := above(c); v > highest {
				best, patch, highest = c, cells, v
			}
		}
	}
	return best, patch
}

// against is the set of a series that tells best what grows with the
// exposure, and this one, the longer exposure first; false when there is no other exposure.
func (d *darkRun) against(series []*darkRun) (long, short *darkRun, ok bool) {
	apart := 1.5
	for _, o := range series {
		if r := max(o.group.Exposure, d.group.Exposure) / min(o.group.Exposure, d.group.Exposure); o.detail.Glow.Values != nil && r >= apart {
			long, short, apart, ok = d, o, r, true
			if o.group.Exposure > d.group.Exposure {
				long, short = o, d
			}
		}
	}
	return long, short, ok
}

// settleGlow drops a glow that does not grow with the exposure, and measures the
// light leak, once all sets of the series have their maps. sets are of one
// series; with a bias each map is a set's own, without one they are differences.
func (d *darkRun) settleGlow(sets []*darkRun) {
	if d.glow.place != "" && d.bias != nil {
		if long, short, ok := d.against(sets); ok {
			grown := long.detail.Glow.Values[d.glow.cell] - short.detail.Glow.Values[d.glow.cell]
			if grown < edgeSigma*math.Hypot(long.cellNoise, short.cellNoise) {
				d.glow = noGlow(GlowOfOffset, fact.Number("height_adu", d.glow.height.V))
				d.detail.GlowPlace = ""
			}
		}
	}
	d.measureLeak(sets)
}

func noGlow(why fact.Code, values ...fact.Value) glow {
	none := stats.Missing(why, values...)
	return glow{none, none, none, "", -1}
}

// place is where a cell lies; y runs up.
func place(m stats.Map, i, j int) fact.Code {
	lower, upper := j*8 < m.Height, (m.Height-1-j)*8 < m.Height
	left, right := i*8 < m.Width, (m.Width-1-i)*8 < m.Width
	switch {
	case lower && left:
		return LowerLeft
	case lower && right:
		return LowerRight
	case lower:
		return Lower
	case upper && left:
		return UpperLeft
	case upper && right:
		return UpperRight
	case upper:
		return Upper
	case left:
		return Left
	case right:
		return Right
	}
	return Inside
}

// measureLeak tells a light leak: a broad gradient of the dark signal that grows
// with the exposure, or a level that drifts over the set, in percent of the
// signal. With one exposure only, the gradient has to exceed the offset's own. Beside a
// glow that is higher, nothing separates a gradient from its skirts.
func (d *darkRun) measureLeak(sets []*darkRun) {
	rate := d.series.Rate
	switch {
	case !rate.OK():
		d.leak = stats.Because(rate.Why)
		return
	case !d.above():
		d.leak = stats.Missing(NothingBelow)
		return
	case rate.V < 5*rate.Err:
		d.leak = stats.Missing(SignalTooSmall)
		return
	}
	signal := rate.V * d.group.Exposure
	ramp, noise, own := d.ramp, d.cellNoise, 0.0
	if long, short, ok := d.against(sets); ok && d.bias != nil {
		grow := d.group.Exposure / (long.group.Exposure - short.group.Exposure)
		ramp.B, ramp.C = grow*(long.ramp.B-short.ramp.B), grow*(long.ramp.C-short.ramp.C)
		noise = grow * math.Hypot(long.cellNoise, short.cellNoise)
	} else if d.bias != nil {
		own = d.bias.ramp
	}
	err := noise / d.cellNoise * d.rampErr()
	drift, driftErr := d.drift(signal)
	v, e := ramp.Reach(), err
	d.leakNote = fact.Of(LeakGradient)
	if math.Abs(drift) > 3*driftErr && math.Abs(drift) > v {
		v, e, own = math.Abs(drift), driftErr, 0
		d.leakNote = fact.Of(LeakDrift, fact.Number("drift_adu", drift))
	}
	switch {
	case v < 3*e:
		d.leak = stats.Missing(NoLeak, fact.Number("at_most_pct", 300*e/signal))
	case d.glow.height.OK() && d.leakNote.Code == LeakGradient && v < d.glow.height.V:
		d.leak = stats.Missing(GradientOfGlow)
	case v < own:
		d.leak = stats.Missing(GradientOfOffset, fact.Number("gradient_adu", v), fact.Number("own_adu", own))
	default:
		d.leak = stats.Known(100*v/signal, 100*v/signal*math.Hypot(e/v, rate.Err/rate.V), len(d.Frames))
	}
}

func (d *darkRun) leakWarning() fact.Fact {
	uneven := fact.Number("uneven_pct", d.leak.V)
	if d.leakNote.Code == LeakGradient {
		return fact.Of(DarkGradient, uneven)
	}
	return fact.Of(DarkDrift, append(d.leakNote.Values, uneven)...)
}

// drift is the change of the level over the set, ADU, beyond what the dark current of a sensor
// that warms or cools makes of the signal, with its error; 0 of fewer than four frames.
func (d *darkRun) drift(signal float64) (change, err float64) {
	kept := d.KeptLevels()
	if len(kept) < 4 {
		return 0, 0
	}
	change, err = overall(kept)
	if temps, _ := d.Temps(); len(temps) == len(kept) {
		warmer, warmerErr := overall(temps)
		grows := signal * math.Ln2 / usualDoubling
		change -= grows * warmer
		err = math.Hypot(err, grows*math.Hypot(warmerErr, warmer/usualDoubling))
	}
	return change, err
}

// overall is the change over a series by the straight line through it, with its error.
func overall(series []float64) (change, err float64) {
	at := make([]float64, len(series))
	for i := range at {
		at[i] = float64(i)
	}
	line, e := stats.FitLine(at, series, nil)
	if e != nil {
		return 0, 0
	}
	span := float64(len(series) - 1)
	return line.B * span, line.ErrB * span
}
