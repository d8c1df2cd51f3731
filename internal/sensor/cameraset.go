package sensor

import (
	"fmt"
	"math"

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
	if m.BinX > 1 || m.BinY > 1 {
		s += fmt.Sprintf(" bin %dx%d", m.BinX, m.BinY)
	}
	return s
}

// set writes the camera's summary down.
func (m *mode) set(cs *Cameras) *Set {
	s := &Set{Label: m.Label(), Kind: KindCamera, Camera: m.Camera, Measured: true}
	out := &Camera{
		Mode:     m.Mode,
		Transfer: m.transfer, TransferFit: m.fit,
		Series: m.series, Temperature: m.law, Setting: m.setting(),
	}
	s.Summary = out
	if m.readNoiseFrom != "" {
		out.Old = append(out.Old, "read_noise_e")
	}
	if m.lawWhen != "" && len(m.law.Points) == 0 {
		out.Old = append(out.Old, "dark_current_0c_e_per_s")
	}
	if m.gainFrom == "memory" || m.gainFrom == "header" {
		out.Old = append(out.Old, "gain_e_per_adu")
	}
	out.Gain = figure(m.gain, m.gainWords())
	rn := times(m.readNoise, m.gain)
	from := m.readNoiseFrom
	if from == "" {
		from = limitNote(m.readNoise)
	}
	out.ReadNoise = figure(rn, join(from, m.gainNote()))
	well, note := m.fullWell(cs)
	out.FullWell = figure(well, note)
	saturation := stats.Missing(notKnown)
	if !math.IsNaN(m.saturation) {
		saturation = stats.Known(m.saturation, 0, 0)
	}
	out.Saturation = figure(saturation, m.saturationFrom)
	dr := stats.Missing(rn.Why)
	if !well.OK() {
		dr = stats.Missing(well.Why)
	} else if rn.OK() {
		// Howell 2006, section 2.8 in stops: log2 of full well over read noise.
		dr = stats.Known(math.Log2(well.V/rn.V), math.Hypot(known(well.Err)/well.V, rn.Err/rn.V)/math.Ln2, rn.N)
	}
	out.DynamicRange = figure(dr, note)
	linearity, points := m.linearity(cs)
	out.Linearity = points
	out.LinearityError = figure(linearity, "mean deviation from the line of level against exposure")
	out.DarkDoubling = figure(m.law.DoublingC, m.law.Words)
	out.DarkActivation = figure(m.law.ActivationEV, m.law.Words)
	zero, zeroNote := m.darkAt(0, cs.opt.TempTolC)
	out.DarkCurrent = figure(zero, zeroNote)
	out.DarkBenefit = figure(stats.Missing("no subs to weigh darks for"), "")
	m.warn(s)
	return s
}

// gainWords sets the measured gain, the curve's and the header's side by side.
func (m *mode) gainWords() string {
	words := ""
	switch {
	case m.measured.OK() && !math.IsNaN(m.header):
		words = fmt.Sprintf("measured %.4g, header %.4g; the measured one is used", m.measured.V, m.header)
	case m.measured.OK():
		words = "measured; the header is silent"
	case m.gainFrom == "memory":
		words = m.gainWhen + "; not measured this time: " + m.measured.Why
	default:
		words = "the header's; not measured: " + m.measured.Why
	}
	if m.brightGain {
		words += fmt.Sprintf("; all flats lie above %.0f %% of saturation, where the sensor need not be linear", 100*fitUpTo)
	}
	if m.fit.N >= 3 && m.fit.B > 0 {
		words += fmt.Sprintf("; slope of the transfer curve gives %.4g, its intercept is %s ADU²", 1/m.fit.B, stats.Known(m.fit.At(0), m.fit.ErrAt(0), m.fit.N).PlusMinus())
		if m.curvature.N > 0 {
			words += fmt.Sprintf(", towards saturation it falls %s %% below the line", m.curvature.PlusMinus())
		}
	}
	return words
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

// fullWell is the signal at which the variance peaks, else what saturates the converter.
func (m *mode) fullWell(cs *Cameras) (stats.Value, string) {
	if !m.gain.OK() {
		return stats.Missing(m.gain.Why), ""
	}
	if m.fullWellSeen {
		return stats.Known(m.peakAt*m.gain.V, known(m.gain.Err)*m.peakAt, m.fit.N), "where the transfer curve bends"
	}
	if math.IsNaN(m.saturation) {
		return stats.Missing(notKnown), ""
	}
	offset := 0.0
	for _, b := range cs.biases {
		if m.has(b.group) && b.ok() {
			offset = b.offset.V
			break
		}
	}
	v := m.saturation - offset
	return stats.Known(v*m.gain.V, known(m.gain.Err)*v, m.gain.N), "where samples saturate, less the offset; no transfer curve bends below, so the sensor's own well may be deeper"
}

func (m *mode) warn(s *Set) {
	if m.measured.OK() && !math.IsNaN(m.header) {
		if d := m.header/m.measured.V - 1; math.Abs(d) > max(0.05, 5*known(m.measured.Err)/m.measured.V) {
			s.Warnings = append(s.Warnings, fmt.Sprintf("the header claims %.4g e-/ADU, the flats give %.4g: go by the measured one", m.header, m.measured.V))
		}
	}
	if m.fit.N >= 3 && m.fit.B > 0 && m.measured.OK() {
		slope := 1 / m.fit.B
		if err := math.Hypot(known(m.fit.ErrB)*slope*slope, known(m.measured.Err)); math.Abs(slope-m.measured.V) > max(0.03*m.measured.V, 3*err) {
			why := "the offset taken off the flats may be wrong, or their light unsteady"
			if c := m.curvature; c.OK() && c.V > 3*c.Err && c.V > 2 {
				why = fmt.Sprintf("the curve bends: at half to 70 %% of saturation the variance lies %.1f %% low", c.V)
			}
			s.Warnings = append(s.Warnings, fmt.Sprintf("the slope of the transfer curve gives %.4g e-/ADU, pairs at single levels %.4g: %s", slope, m.measured.V, why))
		}
	}
	for _, e := range m.series {
		if e.Words != "" && e.warn {
			s.Warnings = append(s.Warnings, e.Words)
		}
	}
}
