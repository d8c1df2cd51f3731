package calib

import (
	"fmt"
	"math"

	"fitsqa/internal/stats"
)

// glow is light from the camera's own electronics: how far the highest cell of
// the coarse map stands above the middle one.
type glow struct {
	height stats.Value // ADU
	x, y   stats.Value // px
	shape  string
}

// glowSigma is how significant a glow must be to be placed: among a thousand
// cells noise alone reaches 3.2 sigma.
const glowSigma = 6

// measureGlow looks for local glow and for the broad gradient and drift of a
// light leak in the map of dark signal.
func (d *darkRun) measureGlow(signal []float32, sigma float64, workers int) {
	m := coarse(signal, d.group.Width, workers)
	floor := stats.Median(m.Values)
	best := 0
	for i, v := range m.Values {
		if v > m.Values[best] {
			best = i
		}
	}
	height := m.Values[best] - floor
	// The noise of a cell, from neighbours: gradients cancel in the difference.
	var steps []float64
	for j := range m.Height {
		for i := 1; i < m.Width; i++ {
			steps = append(steps, m.At(i, j)-m.At(i-1, j))
		}
	}
	noise := stats.MADSigma(steps) / math.Sqrt2
	noise = max(noise, 1.2533*sigma/float64(m.Step))
	n := len(d.frames)
	d.glow = glow{height: stats.Known(height, noise, n)}
	if p := m.FitPlane(); height-p.Reach()/2 < glowSigma*noise {
		why := fmt.Sprintf("no glow above %.2g ADU", glowSigma*noise)
		d.glow.x, d.glow.y = stats.Missing(why), stats.Missing(why)
	} else {
		i, j := best%m.Width, best/m.Width
		half := float64(m.Step) / 2
		d.glow.x = stats.Known(float64(i*m.Step)+half-0.5, half/math.Sqrt(3), n)
		d.glow.y = stats.Known(float64(j*m.Step)+half-0.5, half/math.Sqrt(3), n)
		d.glow.shape = place(m, i, j)
	}
	d.detail.GlowShape = d.glow.shape
	d.measureLeak(m, noise)
	for i := range m.Values {
		m.Values[i] -= floor
	}
	d.detail.Glow = m
}

// place words where a cell lies; y runs up.
func place(m stats.Map, i, j int) string {
	vertical, horizontal := "", ""
	switch {
	case j*8 < m.Height:
		vertical = "lower"
	case (m.Height-1-j)*8 < m.Height:
		vertical = "upper"
	}
	switch {
	case i*8 < m.Width:
		horizontal = "left"
	case (m.Width-1-i)*8 < m.Width:
		horizontal = "right"
	}
	switch {
	case vertical != "" && horizontal != "":
		return vertical + " " + horizontal + " corner"
	case vertical+horizontal != "":
		return vertical + horizontal + " edge"
	}
	return "inside the frame"
}

// measureLeak tells a light leak: a broad gradient of the dark signal, or a
// level that drifts over the set, in percent of the signal.
func (d *darkRun) measureLeak(m stats.Map, noise float64) {
	s := d.current()
	if !s.OK() {
		d.leak = stats.Missing(s.Why)
		return
	}
	if s.V < 5*s.Err {
		d.leak = stats.Missing("the dark signal is too small for a share of it")
		return
	}
	gradient := m.FitPlane().Reach()
	// A plane's slope from k cells is known to sqrt(12/k) of a cell's noise.
	err := noise * math.Sqrt(24/float64(len(m.Values)))
	drift := 0.0
	if kept := d.keptLevels(); len(kept) >= 4 {
		at := make([]float64, len(kept))
		for i := range at {
			at[i] = float64(i)
		}
		if line, e := stats.FitLine(at, kept, nil); e == nil && math.Abs(line.B) > 3*line.ErrB {
			drift = line.B * float64(len(kept)-1)
		}
	}
	v := gradient
	d.leakNote = "gradient across the frame"
	if math.Abs(drift) > gradient {
		v = math.Abs(drift)
		d.leakNote = fmt.Sprintf("level drifts by %+.2g ADU over the set", drift)
	}
	d.leak = stats.Known(100*v/s.V, 100*err/s.V, len(d.frames))
}
