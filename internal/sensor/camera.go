package sensor

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// settleModes finds gain, read noise and saturation of every mode, once bias
// frames and flats are measured.
func (cs *Cameras) settleModes() {
	for _, groups := range [][]*frames.Group{cs.Groups(frames.Bias), cs.Groups(frames.Flat), cs.Groups(frames.Dark), cs.lights} {
		for _, g := range groups {
			cs.modeOf(g)
		}
	}
	for _, m := range cs.modes {
		m.settleReadNoise(cs)
		m.settleSaturation(cs)
		m.settleGain(cs)
		m.settleOldReadNoise(cs)
	}
}

// settleReadNoise pools the bias sets of the mode, weighted by frame pairs: those
// whose sensor was where it was set, if there are any.
func (m *mode) settleReadNoise(cs *Cameras) {
	if m.poolReadNoise(cs, 0); !m.readNoise.OK() {
		m.poolReadNoise(cs, math.Inf(1))
	}
}

// poolReadNoise pools the sets that were at most so many °C off their set point.
func (m *mode) poolReadNoise(cs *Cameras, astray float64) {
	var sum, weight, err float64
	n := 0
	for _, b := range cs.biases {
		if !m.has(b.group) || !b.ok() || b.astray() > astray {
			continue
		}
		if !b.readNoise.OK() {
			if n == 0 {
				m.readNoise = stats.Because(b.readNoise.Why)
			}
			continue
		}
		w := float64(len(b.Frames) - 1)
		sum += w * b.readNoise.V
		err += w * w * b.readNoise.Err * b.readNoise.Err
		weight += w
		n += len(b.Frames)
	}
	if n > 0 {
		m.readNoise = stats.Known(sum/weight, math.Sqrt(err)/weight, n)
	}
}

// settleGain takes the gain of all flat pairs of the mode where the sensor is
// linear, else the header's.
func (m *mode) settleGain(cs *Cameras) {
	m.transfer = nil
	for _, f := range cs.flats {
		if m.has(f.group) {
			m.transfer = append(m.transfer, f.points...)
		}
	}
	m.fitTransfer()
	if len(m.transfer) > 0 {
		m.measureGain()
	} else if m.hasFlats(cs) {
		m.measured = stats.Missing(GainNeedsTwo)
	}
	claims := cs.claims(m)
	if len(claims) > 0 {
		m.header = stats.Median(claims)
	}
	switch {
	case m.measured.OK():
		m.gain, m.gainFrom = m.measured, "measured"
	case m.recallGain(cs):
	case !math.IsNaN(m.header):
		m.gain, m.gainFrom = stats.Known(m.header, math.NaN(), len(claims)), "header"
		if m.claimedFor = m.claimFor(cs); m.claimedFor > 1 {
			m.gain = m.gain.Scaled(1 / m.claimedFor)
		}
	default:
		m.gain = stats.Missing(GainNotGiven, fact.Reason(m.measured.Why))
	}
}

// measureGain takes the gain of the transfer curve's points where the sensor is linear,
// that without light where it bends, else of bright ones, else of the curve's slope.
func (m *mode) measureGain() {
	m.bendPct = 0
	var good []TransferPoint
	for _, p := range m.transfer {
		if !(p.Signal < fitFrom*m.saturation) && p.Signal < m.linearTop() {
			good = append(good, p)
		}
	}
	switch bright := m.brightFlats(); {
	case len(good) > 0:
		m.measured = weightedGain(good)
	case len(bright) > 0:
		m.measured = weightedGain(bright)
		m.brightGain = m.measured.OK()
	default:
		m.measured = stats.Missing(NoFlatsBetween, fact.Number("from_pct", 100*fitFrom), fact.Number("to_pct", 100*brightTop))
	}
	if g, falls := withoutLight(good); g.OK() && m.fit.N > 0 {
		m.measured, m.bendPct = g, falls
	}
	if !m.measured.OK() && m.fit.N >= 2 && m.fit.B > 0 {
		m.measured = stats.Known(1/m.fit.B, stats.OrZero(m.fit.ErrB)/(m.fit.B*m.fit.B), m.fit.N+1)
	}
}

// claims are the e-/ADU that headers claim: those of masters where there are any.
func (cs *Cameras) claims(m *mode) (claims []float64) {
	if ofMasters := cs.masterClaims(m); len(ofMasters) > 0 {
		return ofMasters
	}
	for _, gs := range [][]*frames.Group{cs.Groups(frames.Bias), cs.Groups(frames.Flat), cs.Groups(frames.Dark), cs.lights} {
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
	return claims
}

// masterClaims are the e-/ADU that headers of masters claim: who made one may have
// measured it, a camera's driver has not.
func (cs *Cameras) masterClaims(m *mode) (claims []float64) {
	for _, g := range cs.ready {
		if e := g.Frames[0].Meta.ElectronsPerADU; m.has(g) && e > 0 && !math.IsInf(e, 0) {
			claims = append(claims, e)
		}
	}
	return claims
}

// brightFlats are the points between where the sensor is surely linear and
// where samples begin to be cut: the best there is when all flats lie there and
// the variance does not fall with the light.
func (m *mode) brightFlats() []TransferPoint {
	if m.fullWellSeen() {
		return nil
	}
	var bright []TransferPoint
	for _, p := range m.transfer {
		if p.Signal >= m.linearTop() && p.Signal < brightTop*m.saturation {
			bright = append(bright, p)
		}
	}
	return bright
}

func (m *mode) hasFlats(cs *Cameras) bool {
	for _, f := range cs.flats {
		if m.has(f.group) {
			return true
		}
	}
	return false
}

func (m *mode) gainNote() []fact.Fact {
	gain := fact.Number("e_per_adu", m.gain.V)
	switch m.gainFrom {
	case "measured":
		return []fact.Fact{fact.Of(GainMeasured, gain)}
	case "memory":
		return m.gainWhen.tell(GainRemembered, gain)
	case "header":
		return []fact.Fact{fact.Of(GainOfHeader, gain)}
	}
	return nil
}
