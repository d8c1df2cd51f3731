package calib

import (
	"fmt"
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// The transfer curve is fitted up to this share of saturation (EMVA 1288; from
// memory), and points under the first share tell little.
const (
	fitUpTo   = 0.70
	fitFrom   = 0.02
	linearLow = 0.05
	linearTop = 0.95
)

// settleModes finds gain, read noise and saturation of every mode, once bias
// frames and flats are measured.
func (a *analysis) settleModes() {
	for _, groups := range [][]*frames.Group{a.groups(frames.Bias), a.groups(frames.Flat), a.groups(frames.Dark), a.lights} {
		for _, g := range groups {
			a.modeOf(g)
		}
	}
	for _, m := range a.modes {
		m.settleReadNoise(a)
		m.settleSaturation(a)
		m.settleGain(a)
	}
}

func (a *analysis) groups(k frames.Kind) []*frames.Group {
	var gs []*frames.Group
	switch k {
	case frames.Bias:
		for _, b := range a.biases {
			gs = append(gs, b.group)
		}
	case frames.Dark:
		for _, d := range a.darks {
			gs = append(gs, d.group)
		}
	case frames.Flat:
		for _, f := range a.flats {
			gs = append(gs, f.group)
		}
	}
	return gs
}

// settleReadNoise pools the bias sets of the mode, weighted by frame pairs.
func (m *mode) settleReadNoise(a *analysis) {
	var sum, weight, err float64
	n := 0
	for _, b := range a.biases {
		if !m.has(b.group) || !b.ok() {
			continue
		}
		if !b.readNoise.OK() {
			if n == 0 {
				m.readNoise = stats.Missing(b.readNoise.Why)
			}
			continue
		}
		w := float64(len(b.frames) - 1)
		sum += w * b.readNoise.V
		err += w * w * b.readNoise.Err * b.readNoise.Err
		weight += w
		n += len(b.frames)
	}
	if n > 0 {
		m.readNoise = stats.Known(sum/weight, math.Sqrt(err)/weight, n)
	}
}

// settleSaturation looks for the level where the samples of flats pile up;
// where none saturated, the highest 16-bit level on the camera's grid is assumed.
func (m *mode) settleSaturation(a *analysis) {
	highest := math.NaN()
	step := 1.0
	for _, f := range a.flats {
		if m.has(f.group) && f.raw != nil {
			if p := f.rawUnit.Zero + f.rawUnit.Step*pileUp(f.raw); !(highest > p) && !math.IsNaN(p) {
				highest = p
			}
			if f.run != nil && f.step > 0 {
				step = f.step
			}
		}
	}
	m.saturationSeen = !math.IsNaN(highest)
	for _, b := range a.biases {
		if m.has(b.group) && b.ok() && b.step > 0 {
			step = b.step
		}
	}
	if !m.saturationSeen {
		highest = 65536 - step
	}
	m.saturation = highest
}

// settleGain takes the gain of all flat pairs of the mode where the sensor is
// linear, else the header's.
func (m *mode) settleGain(a *analysis) {
	var points []TransferPoint
	var claims []float64
	for _, f := range a.flats {
		if !m.has(f.group) {
			continue
		}
		points = append(points, f.points...)
	}
	for _, gs := range [][]*frames.Group{a.groups(frames.Bias), a.groups(frames.Flat), a.groups(frames.Dark), a.lights} {
		for _, g := range gs {
			if !m.has(g) {
				continue
			}
			for _, f := range g.Frames {
				if e := f.Meta.ElectronsPerADU; e > 0 && !math.IsInf(e, 0) {
					claims = append(claims, e)
				}
			}
		}
	}
	m.transfer = points
	m.fitTransfer()
	if len(points) > 0 {
		var good []TransferPoint
		for _, p := range points {
			if p.Signal > fitFrom*m.saturation && p.Signal < fitUpTo*m.saturation {
				good = append(good, p)
			}
		}
		if len(good) == 0 {
			m.measured = stats.Missing("no flats between 2 and 70 % of saturation")
		} else {
			m.measured = weightedGain(good)
		}
		if !m.measured.OK() && m.fit.N >= 2 && m.fit.B > 0 {
			m.measured = stats.Known(1/m.fit.B, known(m.fit.ErrB)/(m.fit.B*m.fit.B), m.fit.N+1)
		}
	} else if m.hasFlats(a) {
		m.measured = stats.Missing("the gain needs two flats of about the same level")
	}
	if len(claims) > 0 {
		m.header = stats.Median(claims)
	}
	switch {
	case m.measured.OK():
		m.gain, m.gainFrom = m.measured, "measured"
	case !math.IsNaN(m.header):
		m.gain, m.gainFrom = stats.Known(m.header, math.NaN(), len(claims)), "header"
	default:
		m.gain = stats.Missing(m.measured.Why + ", and no e-/ADU in the header")
	}
}

func (m *mode) hasFlats(a *analysis) bool {
	for _, f := range a.flats {
		if m.has(f.group) {
			return true
		}
	}
	return false
}

// fitTransfer fits variance against signal below 70 % of saturation (EMVA 1288
// photon transfer; from memory), and looks how far the curve falls below the
// line above that.
func (m *mode) fitTransfer() {
	var x, y, sigma []float64
	m.curvature = stats.Missing("levels below 30 % and above 50 % of saturation are needed")
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Fitted = p.Err > 0 && p.Signal < fitUpTo*m.saturation
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
	peak := 0.0
	for i := range m.transfer {
		p := &m.transfer[i]
		p.Residual = p.Variance - fit.At(p.Signal)
		if p.Variance > peak {
			peak, m.peakAt = p.Variance, p.Signal
		}
	}
	// Full well: where the variance peaks though more light follows.
	for _, p := range m.transfer {
		if !math.IsNaN(p.Variance) && p.Signal > m.peakAt && p.Variance < 0.8*peak {
			m.fullWellSeen = true
		}
	}
	m.measureCurvature()
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

// gainNote words which e-/ADU a figure in electrons was made with.
func (m *mode) gainNote() string {
	switch m.gainFrom {
	case "measured":
		return fmt.Sprintf("by the measured %.4g e-/ADU", m.gain.V)
	case "header":
		return fmt.Sprintf("by the header's %.4g e-/ADU", m.gain.V)
	}
	return ""
}

// label is the camera summary's name.
func (m *mode) label() string {
	s := "camera"
	if m.camera != "" {
		s += " " + frames.Printable(m.camera)
	}
	if !math.IsNaN(m.gainSetting) {
		s += fmt.Sprintf(" gain %g", m.gainSetting)
	}
	if m.binX > 1 || m.binY > 1 {
		s += fmt.Sprintf(" bin %dx%d", m.binX, m.binY)
	}
	return s
}

// set writes the camera's summary down.
func (m *mode) set(a *analysis) *Set {
	s := &Set{Label: m.label(), Kind: "camera", Camera: m.camera}
	detail := &CameraDetail{
		Transfer: m.transfer, TransferFit: m.fit, Curvature: m.curvature, FullWellSeen: m.fullWellSeen,
		Series: m.series, Temperature: m.law, GainUsed: m.gain, GainFrom: m.gainFrom, HeaderGain: m.header,
	}
	s.Summary = detail
	s.add("gain_e_per_adu", m.gain, "e-/ADU", m.gainWords())
	rn := times(m.readNoise, m.gain)
	s.add("read_noise_e", rn, "e-", m.gainNote())
	well, note := m.fullWell(a)
	s.add("full_well_e", well, "e-", note)
	satNote := "samples pile up there"
	if !m.saturationSeen {
		satNote = "assumed: no saturated sample was seen"
	}
	s.add("saturation_adu", stats.Known(m.saturation, 0, 0), "ADU", satNote)
	dr := stats.Missing(rn.Why)
	if !well.OK() {
		dr = stats.Missing(well.Why)
	} else if rn.OK() {
		// Howell 2006, section 2.8 in stops: log2 of full well over read noise.
		dr = stats.Known(math.Log2(well.V/rn.V), math.Hypot(known(well.Err)/well.V, rn.Err/rn.V)/math.Ln2, rn.N)
	}
	s.add("dynamic_range_stops", dr, "stops", note)
	linearity, points := m.linearity(a)
	detail.Linearity = points
	s.add("linearity_error_pct", linearity, "%", "mean deviation from the line of level against exposure")
	s.add("dark_doubling_c", m.law.DoublingC, "°C", m.law.Words)
	s.add("dark_activation_ev", m.law.ActivationEV, "eV", m.law.Words)
	zero, zeroNote := m.darkAt(0, a.opt.TempTolC)
	s.add("dark_current_0c_e_per_s", zero, "e-/s", zeroNote)
	s.add("dark_benefit_pct", stats.Missing("no subs to weigh darks for"), "%", "")
	m.warn(s)
	m.summary = s
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
	default:
		words = "the header's; not measured: " + m.measured.Why
	}
	if m.fit.N >= 3 && m.fit.B > 0 {
		words += fmt.Sprintf("; slope of the transfer curve gives %.4g", 1/m.fit.B)
	}
	return words
}

// fullWell is the signal at which the variance peaks, else what saturates the converter.
func (m *mode) fullWell(a *analysis) (stats.Value, string) {
	if !m.gain.OK() {
		return stats.Missing(m.gain.Why), ""
	}
	if m.fullWellSeen {
		return stats.Known(m.peakAt*m.gain.V, known(m.gain.Err)*m.peakAt, m.fit.N), "where the transfer curve bends"
	}
	offset := 0.0
	for _, b := range a.biases {
		if m.has(b.group) && b.ok() {
			offset = b.offset.V
			break
		}
	}
	v := m.saturation - offset
	note := "what fits the converter; no curve reaches the bend, so the sensor may hold more"
	if !m.saturationSeen {
		note = "what fits the 16-bit file; no saturated sample was seen"
	}
	return stats.Known(v*m.gain.V, known(m.gain.Err)*v, m.gain.N), note
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
