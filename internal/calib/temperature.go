package calib

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// boltzmann is the Boltzmann constant, eV/K.
const boltzmann = 8.617333e-5

// kelvin is the temperature in K.
func kelvin(celsius float64) float64 { return celsius + 273.15 }

// straightSigma is how far an intercept may be off before it is called so.
const straightSigma = 3

// settleDarks puts a mode's dark sets in series of exposures, one a
// temperature, and fits the law of temperature through what they give.
func (m *mode) settleDarks(a *analysis) {
	var sets []*darkRun
	for _, d := range a.darks {
		if m.has(d.group) && d.ok() && d.group.Exposure > 0 {
			sets = append(sets, d)
		}
	}
	slices.SortStableFunc(sets, func(x, y *darkRun) int {
		return cmp.Or(cmp.Compare(x.temperature, y.temperature), cmp.Compare(x.group.Exposure, y.group.Exposure))
	})
	// One series: same read-out, temperatures within the tolerance.
	var series [][]*darkRun
	for _, d := range sets {
		i := slices.IndexFunc(series, func(s []*darkRun) bool {
			return sameReadout(s[0].group, d.group) && !(math.Abs(s[0].temperature-d.temperature) > a.opt.TempTolC)
		})
		if i < 0 {
			series = append(series, nil)
			i = len(series) - 1
		}
		series[i] = append(series[i], d)
	}
	m.law.ActivationEV = stats.Missing("no darks whose dark current is known")
	m.law.Electrons = m.gain.OK()
	for _, s := range series {
		e := exposureSeries(s)
		if len(e.Points) > 1 {
			m.series = append(m.series, e)
			for _, d := range s {
				d.series = &e
			}
		}
		if p, ok := m.temperaturePoint(s, e); ok {
			m.law.Points = append(m.law.Points, p)
		}
	}
	m.law.fit()
}

// exposureSeries fits the level of darks of one temperature against exposure.
func exposureSeries(sets []*darkRun) ExposureSeries {
	var temps, x, y []float64
	e := ExposureSeries{Bias: true}
	for _, d := range sets {
		if d.bias == nil {
			e.Bias = false
		}
	}
	for _, d := range sets {
		level := d.level()
		if e.Bias {
			level = d.signal
		}
		temps = append(temps, d.temperature)
		e.Points = append(e.Points, ExposurePoint{d.group.Exposure, level.V, level.Err, d.group.Label()})
		x, y = append(x, d.group.Exposure), append(y, level.V)
	}
	e.TempC = stats.Mean(temps)
	if len(x) < 2 {
		return e
	}
	e.Fit, _ = stats.FitLine(x, y, nil)
	switch l := e.Fit; {
	case l.N < 3:
	case e.Bias && math.Abs(l.A) > straightSigma*l.ErrA && math.Abs(l.A) > 0.02*math.Abs(l.B)*slices.Max(x):
		e.Words = fmt.Sprintf("darks at %.1f °C: at zero exposure their level is %+.2f ADU off the bias: the offset moved between bias and darks, or light leaks in; shoot both in one session, in the dark", e.TempC, l.A)
		e.warn = true
	case l.RMS > 0.05*math.Abs(l.B)*spanOf(x):
		e.Words = fmt.Sprintf("darks at %.1f °C: the level does not grow in step with the exposure (scatter %.2f ADU): the offset or the temperature moved; let the camera settle", e.TempC, l.RMS)
		e.warn = true
	default:
		e.Words = fmt.Sprintf("straight in time: %.4g ADU/s over %d exposures, %+.2f ADU at zero exposure", l.B, l.N, l.A)
	}
	return e
}

// temperaturePoint is the dark current at one temperature: the slope in time
// where three exposures or more give it, else that of the longest exposure.
func (m *mode) temperaturePoint(sets []*darkRun, e ExposureSeries) (TemperaturePoint, bool) {
	p := TemperaturePoint{TempC: e.TempC}
	unit := 1.0
	if m.gain.OK() {
		unit = m.gain.V
	}
	for _, d := range sets {
		p.Frames += len(d.frames)
	}
	if l := e.Fit; (l.N >= 3 || l.N == 2 && !e.Bias) && l.B > 0 && (l.N == 2 || l.B > straightSigma*l.ErrB) {
		p.Rate, p.Err, p.Set = l.B*unit, known(l.ErrB)*unit, "slope in time"
		return p, !math.IsNaN(p.TempC)
	}
	longest := sets[len(sets)-1]
	s := longest.current()
	if !s.OK() || math.IsNaN(p.TempC) {
		return p, false
	}
	t := longest.group.Exposure
	p.TempC, p.Rate, p.Err, p.Set = longest.temperature, s.V/t*unit, s.Err/t*unit, longest.group.Label()
	p.Frames = len(longest.frames)
	return p, true
}

// lawSpan is how far apart in °C temperatures must lie to fix the law.
const lawSpan = 4

// fit draws ln(rate) against 1/kT (Arrhenius; Widenhorn et al. 2002 on what
// the activation energy means).
func (l *TemperatureLaw) fit() {
	l.DoublingC = stats.Missing("no darks whose dark current is known")
	var temps []float64
	n := 0
	for _, p := range l.Points {
		temps = append(temps, p.TempC)
		n += p.Frames
	}
	if len(l.Points) > 0 && (len(l.Points) < 2 || spanOf(temps) < lawSpan) {
		why := fmt.Sprintf("darks at two temperatures %d °C apart are needed", lawSpan)
		l.ActivationEV, l.DoublingC = stats.Missing(why), stats.Missing(why)
		return
	}
	if len(l.Points) == 0 {
		return
	}
	l.MidC = (slices.Min(temps) + slices.Max(temps)) / 2
	var x, y, sigma []float64
	for _, p := range l.Points {
		x = append(x, l.invKT(p.TempC))
		y = append(y, math.Log(p.Rate))
		// No camera holds its temperature, and no rate is known, better than 0.1 %.
		sigma = append(sigma, max(p.Err/p.Rate, 1e-3))
	}
	fit, err := stats.FitLine(x, y, sigma)
	if err != nil || !(fit.B < 0) {
		why := "the dark current does not grow with temperature: is it dark current at all?"
		l.ActivationEV, l.DoublingC = stats.Missing(why), stats.Missing(why)
		return
	}
	l.Fit = fit
	l.ActivationEV = stats.Known(-fit.B, fit.ErrB, n)
	t := kelvin(l.MidC)
	d := t * t * boltzmann * math.Ln2 / -fit.B // Td = T² k ln 2 / Ea
	l.DoublingC = stats.Known(d, d*fit.ErrB/-fit.B, n)
	l.Words = fmt.Sprintf("at %.1f °C, from %d temperatures", l.MidC, len(l.Points))
	if len(l.Points) == 2 {
		l.Words += ": exact, no check"
	}
}

func (l *TemperatureLaw) invKT(celsius float64) float64 {
	return 1/(boltzmann*kelvin(celsius)) - 1/(boltzmann*kelvin(l.MidC))
}

// at is the rate at a temperature by the law, in the law's unit, and whether
// that lies outside the temperatures measured.
func (l *TemperatureLaw) at(celsius float64) (rate stats.Value, extrapolated bool) {
	if l.Fit.N == 0 {
		return stats.Missing(l.DoublingC.Why), false
	}
	v := math.Exp(l.Fit.At(l.invKT(celsius)))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range l.Points {
		lo, hi = min(lo, p.TempC), max(hi, p.TempC)
	}
	return stats.Known(v, v*l.Fit.ErrAt(l.invKT(celsius)), l.ActivationEV.N), celsius < lo || celsius > hi
}

// darkAt is the dark current in e-/s at a temperature: measured there, or
// carried there by the law, in words which.
func (m *mode) darkAt(celsius, tolerance float64) (stats.Value, string) {
	if len(m.law.Points) == 0 {
		return stats.Missing("no darks whose dark current is known"), ""
	}
	if !m.law.Electrons {
		return stats.Missing(m.gain.Why), ""
	}
	if math.IsNaN(celsius) {
		return stats.Missing("the sensor's temperature is not known"), ""
	}
	nearest := slices.MinFunc(m.law.Points, func(a, b TemperaturePoint) int {
		return cmp.Compare(math.Abs(a.TempC-celsius), math.Abs(b.TempC-celsius))
	})
	if math.Abs(nearest.TempC-celsius) <= tolerance {
		return stats.Known(nearest.Rate, nearest.Err, nearest.Frames), fmt.Sprintf("measured at %.1f °C", nearest.TempC)
	}
	v, outside := m.law.at(celsius)
	if !v.OK() {
		return stats.Missing(fmt.Sprintf("darks at %.1f °C only, and no law to carry them to %.1f °C", nearest.TempC, celsius)), ""
	}
	if outside {
		return v, fmt.Sprintf("extrapolated to %.1f °C", celsius)
	}
	return v, fmt.Sprintf("interpolated to %.1f °C", celsius)
}
