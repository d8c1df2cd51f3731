package sensor

import (
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// What this night's frames do not tell of a camera's mode, earlier nights may:
// gain, read noise and the temperature law keep for years (common practice, no
// source). Their age is reported with them.

func (m *mode) recallGain(cs *Cameras) bool {
	v, night := Recall(cs.opt.Remembered, m.Camera, m.setting(), "gain_e_per_adu")
	if !v.OK() || !(v.V > 0) {
		return false
	}
	m.gain, m.gainFrom, m.gainWhen = v, "memory", m.age(cs, night)
	return true
}

// settleOldReadNoise takes the read noise of an earlier night, else the
// header's, where no bias frames tell it.
func (m *mode) settleOldReadNoise(cs *Cameras) {
	if m.readNoise.OK() || !m.gain.OK() {
		return
	}
	if v, night := Recall(cs.opt.Remembered, m.Camera, m.setting(), "read_noise_e"); v.OK() && v.V > 0 {
		m.readNoise, m.readNoiseFrom = v.Scaled(1/m.gain.V), m.age(cs, night).tell(OfNight)
		return
	}
	var claims []float64
	for _, g := range m.groups(cs) {
		for _, f := range g.Frames {
			if e := f.Meta.ReadNoise; e > 0 {
				claims = append(claims, e)
			}
		}
	}
	if len(claims) > 0 {
		m.readNoise = stats.Known(stats.Median(claims)/m.gain.V, math.NaN(), len(claims))
		m.readNoiseFrom = []fact.Fact{fact.Of(OfHeader)}
	}
}

// rememberedRate is the dark current at a temperature by the law of an earlier
// night, e-/s.
func (m *mode) rememberedRate(celsius float64) (stats.Value, []fact.Fact) {
	v := m.oldRate.V * math.Exp(-m.oldEnergy.V/boltzmann*(1/kelvin(celsius)-1/kelvin(0)))
	lever := math.Abs(1/kelvin(celsius)-1/kelvin(0)) / boltzmann
	err := v * math.Hypot(m.oldRate.KnownErr()/m.oldRate.V, m.oldEnergy.KnownErr()*lever)
	return stats.Known(v, err, m.oldRate.N), m.lawWhen.tell(ByOldLaw)
}

// claimedNoise tells that the read noise is none that was measured of this night's frames.
func (m *mode) claimedNoise() bool {
	return len(m.readNoiseFrom) > 0 && (m.readNoiseFrom[0].Code == OfHeader || m.readNoiseFrom[0].Code == OfNight)
}

func (m *mode) recallLaw(cs *Cameras) {
	rate, night := Recall(cs.opt.Remembered, m.Camera, m.setting(), "dark_current_0c_e_per_s")
	energy, _ := Recall(cs.opt.Remembered, m.Camera, m.setting(), "dark_activation_ev")
	if rate.OK() && rate.V > 0 && energy.OK() && energy.V > 0 {
		m.oldRate, m.oldEnergy, m.lawWhen = rate, energy, m.age(cs, night)
	}
}

func (m *mode) groups(cs *Cameras) []*frames.Group {
	var all []*frames.Group
	for _, list := range [][]*frames.Group{cs.Groups(frames.Bias), cs.Groups(frames.Dark), cs.Groups(frames.Flat), cs.lights} {
		for _, g := range list {
			if m.has(g) {
				all = append(all, g)
			}
		}
	}
	return all
}

// age is of which night a figure is, and how long that was before the mode's frames.
type age struct {
	night string  // "" of a figure that is not remembered
	days  float64 // NaN when not known
}

func (m *mode) age(cs *Cameras, night string) age {
	then, err := time.Parse(time.DateOnly, night)
	for _, g := range m.groups(cs) {
		if start := g.Frames[0].Meta.Start; err == nil && !start.IsZero() {
			return age{night, math.Abs(math.Floor(start.Sub(then).Hours() / 24))}
		}
	}
	return age{night, math.NaN()}
}

func (a age) known() bool { return a.night != "" }

// tell adds night and age to a note.
func (a age) tell(code fact.Code, values ...fact.Value) []fact.Fact {
	all := []fact.Fact{fact.Of(code, append(values, fact.Text("night", a.night))...)}
	if !math.IsNaN(a.days) {
		all = append(all, fact.Of(DaysBefore, fact.Number("days", a.days)))
	}
	return all
}
