package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// settleLaw fits the law of temperature through the rates of the series.
func (m *mode) settleLaw(cs *Cameras, series [][]*darkRun) {
	m.findThermometer(cs)
	m.recallLaw(cs)
	m.law.Electrons = m.gain.OK()
	unit := m.gain.Or(1)
	for _, s := range series {
		e := s[0].series
		if !e.Rate.OK() || math.IsNaN(e.TempC) {
			continue
		}
		p := TemperaturePoint{TempC: e.TempC, Rate: e.Rate.V * unit, Err: e.Rate.Err * unit, TempErr: m.temperatureErr(s)}
		for _, d := range s {
			p.Frames += len(d.Frames)
		}
		m.law.Points = append(m.law.Points, p)
	}
	m.law.fit()
}

// lawSpan is how far apart in °C temperatures must lie to fix the law.
const lawSpan = 4

// leastActivation is the least activation energy that a dark current has, eV: half of
// silicon's gap at room temperature (Widenhorn et al. 2002), and a tenth less for what
// thermometers and powers of the temperature make of it.
const leastActivation = 0.5

// fit draws ln(rate) against 1/kT (Arrhenius; Widenhorn et al. 2002 on what
// the activation energy means).
func (l *TemperatureLaw) fit() {
	none := stats.Missing(NoDarkCurrent)
	l.DoublingC, l.ActivationEV = none, none
	var temps []float64
	n := 0
	for _, p := range l.Points {
		temps = append(temps, p.TempC)
		n += p.Frames
	}
	if len(l.Points) > 0 && (len(l.Points) < 2 || spanOf(temps) < lawSpan) {
		none = stats.Missing(LawNeeds, fact.Count("apart_c", lawSpan))
		l.ActivationEV, l.DoublingC = none, none
		return
	}
	if len(l.Points) == 0 {
		return
	}
	l.MidC = (slices.Min(temps) + slices.Max(temps)) / 2
	fit, err := l.line(usualDoubling)
	if err == nil && fit.B < 0 { // again with what it tells of the temperatures' errors
		fit, err = l.line(l.doubling(fit))
	}
	if err != nil || !(fit.B < 0) {
		none = stats.Missing(NoGrowth)
		l.ActivationEV, l.DoublingC = none, none
		return
	}
	if ev := stats.Known(-fit.B, fit.ErrB, n); ev.V+straightSigma*ev.Err < leastActivation {
		none = stats.Missing(TooSlow, fact.Number("doubling_c", l.doubling(fit)), fact.Number("slowest_c", l.doubling(stats.Line{B: -leastActivation})))
		l.ActivationEV, l.DoublingC = none, none
		return
	}
	l.Fit = fit
	l.ActivationEV = stats.Known(-fit.B, fit.ErrB, n)
	d := l.doubling(fit)
	l.DoublingC = stats.Known(d, d*fit.ErrB/-fit.B, n)
	code := LawBasis
	if len(l.Points) == 2 {
		code = LawExact
	}
	l.Basis = fact.Of(code, fact.Number("mid_c", l.MidC), fact.Count("temperatures", len(l.Points)))
}

// line fits the points, their temperatures' errors carried into the rates by the
// °C that double them.
func (l *TemperatureLaw) line(doubling float64) (stats.Line, error) {
	var x, y, sigma []float64
	for _, p := range l.Points {
		x = append(x, l.invKT(p.TempC))
		y = append(y, math.Log(p.Rate))
		// No rate is known better than 0.1 %.
		sigma = append(sigma, max(1e-3, math.Hypot(p.Err/p.Rate, math.Ln2/doubling*p.TempErr)))
	}
	return stats.FitLine(x, y, sigma)
}

// doubling is by how many °C more the rate doubles around MidC: T² k ln 2 / Ea.
func (l *TemperatureLaw) doubling(fit stats.Line) float64 {
	t := kelvin(l.MidC)
	return t * t * boltzmann * math.Ln2 / -fit.B
}

func (l *TemperatureLaw) invKT(celsius float64) float64 {
	return InverseKT(celsius) - InverseKT(l.MidC)
}

// InverseKT is 1/kT in 1/eV: a rate of activation energy E goes as exp(-E/kT).
func InverseKT(celsius float64) float64 { return 1 / (boltzmann * kelvin(celsius)) }

// UsualActivation is the activation energy in eV of a dark current whose law is not
// known, by the °C that usually double it, give or take one.
func UsualActivation(celsius float64) stats.Value {
	t := kelvin(celsius)
	v := t * t * boltzmann * math.Ln2 / usualDoubling
	return stats.Known(v, v/usualDoubling, 0)
}

// at is the rate at a temperature by the law, in the law's unit, and whether
// that lies outside the temperatures measured.
func (l *TemperatureLaw) at(celsius float64) (rate stats.Value, extrapolated bool) {
	if l.Fit.N == 0 {
		return stats.Because(l.DoublingC.Why), false
	}
	v := math.Exp(l.Fit.At(l.invKT(celsius)))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range l.Points {
		lo, hi = min(lo, p.TempC), max(hi, p.TempC)
	}
	return stats.Known(v, v*l.Fit.ErrAt(l.invKT(celsius)), l.ActivationEV.N), celsius < lo || celsius > hi
}

func (l *TemperatureLaw) nearest(celsius float64) TemperaturePoint {
	return slices.MinFunc(l.Points, func(a, b TemperaturePoint) int {
		return cmp.Compare(math.Abs(a.TempC-celsius), math.Abs(b.TempC-celsius))
	})
}

// usuallyAt is the dark current in e-/s at a temperature, carried from the nearest one by
// the °C that usually double it, over no more than these.
func (m *mode) usuallyAt(celsius float64) (rate stats.Value, from float64, ok bool) {
	p := m.law.nearest(celsius)
	if !(math.Abs(p.TempC-celsius) <= usualDoubling) || !(p.Rate > 0) {
		return stats.Value{}, 0, false
	}
	ev := UsualActivation(celsius)
	lever := InverseKT(p.TempC) - InverseKT(celsius)
	v := p.Rate * math.Exp(ev.V*lever)
	rel := math.Hypot(math.Hypot(p.Err/p.Rate, math.Ln2/usualDoubling*p.TempErr), ev.Err*lever)
	return stats.Known(v, v*rel, p.Frames), p.TempC, true
}

// darkAt is the dark current in e-/s at a temperature: measured there, or
// carried there by the law; and which.
func (m *mode) darkAt(celsius, tolerance float64) (stats.Value, []fact.Fact) {
	if len(m.law.Points) == 0 && m.lawWhen.known() && !math.IsNaN(celsius) {
		return m.rememberedRate(celsius)
	}
	if len(m.law.Points) == 0 {
		return stats.Missing(NoDarkCurrent), nil
	}
	if !m.law.Electrons {
		return stats.Because(m.gain.Why), nil
	}
	if math.IsNaN(celsius) {
		return stats.Missing(TempUnknown), nil
	}
	nearest := m.law.nearest(celsius)
	if math.Abs(nearest.TempC-celsius) <= tolerance {
		doubling := m.law.DoublingC.Or(usualDoubling)
		err := math.Hypot(nearest.Err, nearest.Rate*math.Ln2/doubling*nearest.TempErr)
		return stats.Known(nearest.Rate, err, nearest.Frames), []fact.Fact{fact.Of(MeasuredAt, fact.Number("temp_c", nearest.TempC))}
	}
	v, outside := m.law.at(celsius)
	if !v.OK() && m.lawWhen.known() {
		return m.rememberedRate(celsius)
	}
	if !v.OK() {
		return stats.Missing(NoLaw, fact.Number("nearest_c", nearest.TempC), fact.Number("temp_c", celsius)), nil
	}
	code := InterpolatedTo
	if outside {
		code = ExtrapolatedTo
	}
	return v, []fact.Fact{fact.Of(code, fact.Number("temp_c", celsius))}
}
