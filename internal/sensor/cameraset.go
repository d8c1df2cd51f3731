package sensor

import (
	"fmt"
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Label is the mode in words.
func (m Mode) Label() string {
	s := "camera"
	if m.Camera != "" {
		s += " " + frames.Printable(string(m.Camera))
	}
	if !math.IsNaN(m.GainSetting) {
		s += fmt.Sprintf(" gain %g", m.GainSetting)
	}
	if m.ReadoutMode != "" {
		s += " read out " + frames.Printable(string(m.ReadoutMode))
	}
	if m.BinX > 1 || m.BinY > 1 {
		s += fmt.Sprintf(" bin %dx%d", m.BinX, m.BinY)
	}
	return s
}

func (m *mode) set(cs *Cameras) *Set {
	s := &Set{Label: m.Label(), Kind: KindCamera, Camera: m.Camera, Measured: true}
	out := &Camera{
		Mode:     m.Mode,
		Transfer: m.transfer, TransferFit: m.fit,
		Series: m.series, Temperature: m.law, Setting: m.setting(),
	}
	s.Summary = out
	if m.claimedNoise() {
		out.Old = append(out.Old, "read_noise_e")
	}
	if m.lawWhen.known() && len(m.law.Points) == 0 {
		out.Old = append(out.Old, "dark_current_0c_e_per_s")
	}
	if m.gainFrom == "memory" || m.gainFrom == "header" {
		out.Old = append(out.Old, "gain_e_per_adu")
	}
	out.Gain = figure(m.gain, m.gainFacts()...)
	rn := times(m.readNoise, m.gain)
	from := m.readNoiseFrom
	if from == nil {
		from = limitNote(m.readNoise)
	}
	out.ReadNoise = figure(rn, notes(from, m.gainNote())...)
	well, note := m.fullWell(cs)
	out.FullWell = figure(well, note)
	saturation := stats.Missing(SaturationUnknown)
	if !math.IsNaN(m.saturation) {
		saturation = stats.Known(m.saturation, 0, 0)
	}
	out.Saturation = figure(saturation, m.saturationFrom...)
	dr := stats.Because(rn.Why)
	if !well.OK() {
		dr = stats.Because(well.Why)
	} else if rn.OK() {
		// Howell 2006, section 2.8 in stops: log2 of full well over read noise.
		dr = stats.Known(math.Log2(well.V/rn.V), math.Hypot(well.KnownErr()/well.V, rn.Err/rn.V)/math.Ln2, rn.N)
	}
	out.DynamicRange = figure(dr, note)
	linearity, points := m.linearity(cs)
	out.Linearity = points
	out.LinearityError = figure(linearity, fact.Of(FromLine))
	out.DarkDoubling = figure(m.law.DoublingC, m.law.Basis)
	out.DarkActivation = figure(m.law.ActivationEV, m.law.Basis)
	zero, zeroNote := m.darkAt(0, cs.opt.TempTolC)
	out.DarkCurrent = figure(zero, zeroNote...)
	out.DarkBenefit = figure(stats.Missing(NoSubs))
	m.warn(s, cs)
	return s
}

// gainFacts set the measured gain, the curve's and the header's side by side.
func (m *mode) gainFacts() []fact.Fact {
	var all []fact.Fact
	switch {
	case m.measured.OK() && !math.IsNaN(m.header):
		all = append(all, fact.Of(GainAgainst, fact.Number("measured", m.measured.V), fact.Number("header", m.header)))
	case m.measured.OK():
		all = append(all, fact.Of(GainHeaderMute))
	case m.gainFrom == "memory":
		all = append(m.gainWhen.tell(OfNight), fact.Of(NotThisTime, fact.Reason(m.measured.Why)))
	default:
		all = append(all, fact.Of(GainOnlyHeader, fact.Reason(m.measured.Why)))
	}
	if m.brightGain {
		all = append(all, fact.Of(GainBright, fact.Number("from_pct", 100*fitUpTo)))
	}
	if m.bendPct > 0 {
		all = append(all, fact.Of(GainUnbent, fact.Number("falls_pct", m.bendPct)))
	}
	if m.measured.OK() && m.fit.N == 0 {
		all = append(all, fact.Of(GainOneLevel))
	}
	if m.fit.N >= 3 && m.fit.B > 0 {
		all = append(all, fact.Of(CurveGives, fact.Number("e_per_adu", 1/m.fit.B), fact.Number("intercept_adu2", m.fit.At(0)), fact.Number("intercept_adu2_err", m.fit.ErrAt(0))))
		if m.curvature.N > 0 {
			all = append(all, fact.Of(CurveFalls, fact.Number("low_pct", m.curvature.V), fact.Number("low_pct_err", m.curvature.Err)))
		}
	}
	return all
}

// known tells whether anything but subs' silent headers is known of the mode.
func (m *mode) known(cs *Cameras) bool {
	if !math.IsNaN(m.header) {
		return true
	}
	for _, k := range []frames.Kind{frames.Bias, frames.Dark, frames.Flat} {
		for _, g := range cs.Groups(k) {
			if m.has(g) {
				return true
			}
		}
	}
	return false
}

// fullWell is the signal from which the variance falls, else what saturates the converter.
func (m *mode) fullWell(cs *Cameras) (stats.Value, fact.Fact) {
	if !m.gain.OK() {
		return stats.Because(m.gain.Why), fact.Fact{}
	}
	if m.fullWellSeen() { // anywhere between the two levels
		v := (m.peakAt + m.fallenAt) / 2
		between := (m.fallenAt - m.peakAt) / math.Sqrt(12)
		return stats.Known(v*m.gain.V, math.Hypot(m.gain.KnownErr()*v, between*m.gain.V), m.fit.N), fact.Of(WellByCurve)
	}
	if math.IsNaN(m.saturation) {
		return stats.Missing(SaturationUnknown), fact.Fact{}
	}
	offset := 0.0
	for _, b := range cs.biases {
		if m.has(b.group) && b.ok() {
			offset = b.offset.V
			break
		}
	}
	v := m.saturation - offset
	return stats.Known(v*m.gain.V, m.gain.KnownErr()*v, m.gain.N), fact.Of(WellByEnd)
}

func (m *mode) warn(s *Set, cs *Cameras) {
	if step := m.step(cs); m.gainFrom == "header" && step > 1 {
		switch m.claimedFor {
		case 1: // as it says
		case step:
			s.warn(HeaderGainOfStep, fact.Number("header", m.header), fact.Number("step_adu", step), fact.Number("e_per_adu", m.gain.V))
		default:
			s.warn(HeaderGainSteps, fact.Number("header", m.header), fact.Number("step_adu", step))
		}
	}
	if m.measured.OK() && !math.IsNaN(m.header) {
		if d := m.header/m.measured.V - 1; math.Abs(d) > max(0.05, 5*m.measured.KnownErr()/m.measured.V) {
			s.warn(HeaderGainOff, fact.Number("header", m.header), fact.Number("measured", m.measured.V))
		}
	}
	if m.fit.N >= 3 && m.fit.B > 0 && m.measured.OK() {
		slope := 1 / m.fit.B
		if err := math.Hypot(stats.OrZero(m.fit.ErrB)*slope*slope, m.measured.KnownErr()); math.Abs(slope-m.measured.V) > max(0.03*m.measured.V, 3*err) {
			gains := []fact.Value{fact.Number("slope", slope), fact.Number("measured", m.measured.V)}
			if c := m.curvature; m.bendPct > 0 {
				s.warn(CurveBends, append(gains, fact.Number("low_pct", m.bendPct))...)
			} else if c.OK() && c.V > 3*c.Err && c.V > 2 {
				s.warn(CurveBends, append(gains, fact.Number("low_pct", c.V))...)
			} else {
				s.warn(CurveOff, gains...)
			}
		}
	}
	if slow := m.law.DoublingC.Why; slow.Code == TooSlow {
		s.warn(DarksSlow, slow.Values...)
	}
	for _, e := range m.series {
		if e.astray() {
			s.Warnings = append(s.Warnings, e.Finding)
		}
	}
}
