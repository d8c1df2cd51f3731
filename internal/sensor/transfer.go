package sensor

import (
	"math"

	"fitsqa/internal/stats"
)

// fitTransfer fits variance against signal below 70 % of saturation (EMVA 1288
// photon transfer; from memory), and looks how far the curve falls below the
// line above that.
func (m *mode) fitTransfer() {
	m.findPeak()
	var x, y, sigma []float64
	m.curvature = stats.Missing("levels below 30 % and above 50 % of saturation are needed")
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Fitted = p.Err > 0 && p.Signal < m.linearTop()
		if p.Fitted {
			x, y, sigma = append(x, p.Signal), append(y, p.Variance), append(sigma, p.Err)
		}
	}
	if len(x) < 2 || spanOf(x) < 0.2*stats.Median(x) {
		m.fit = stats.Line{}
		return
	}
	fit, err := stats.FitLine(x, y, sigma)
	if err != nil {
		return
	}
	m.fit = fit
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Residual = p.Variance - fit.At(p.Signal)
	}
	m.measureCurvature()
}

// findPeak looks for the full well: where the variance peaks though more light
// follows.
func (m *mode) findPeak() {
	peak := 0.0
	for _, p := range m.transfer {
		if p.Variance > peak {
			peak, m.peakAt = p.Variance, p.Signal
		}
	}
	for _, p := range m.transfer {
		if !math.IsNaN(p.Variance) && p.Signal > m.peakAt && p.Variance < 0.8*peak {
			m.fullWellSeen = true
		}
	}
}

// measureCurvature compares the points between 50 and 70 % of saturation with
// a line through those below 30 %.
func (m *mode) measureCurvature() {
	var x, y, s []float64
	for _, p := range m.transfer {
		if p.Err > 0 && p.Signal < 0.3*m.saturation {
			x, y, s = append(x, p.Signal), append(y, p.Variance), append(s, p.Err)
		}
	}
	low, err := stats.FitLine(x, y, s)
	if len(x) < 2 || err != nil {
		return
	}
	var sum, weight float64
	n := 0
	for _, p := range m.transfer {
		if p.Err > 0 && p.Signal > 0.5*m.saturation && p.Signal < fitUpTo*m.saturation {
			line := low.At(p.Signal)
			e := 100 * math.Hypot(p.Err, known(low.ErrAt(p.Signal))) / line
			sum += 100 * (line - p.Variance) / line / (e * e)
			weight += 1 / (e * e)
			n++
		}
	}
	if n > 0 {
		m.curvature = stats.Known(sum/weight, 1/math.Sqrt(weight), n)
	}
}
