package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// ReadNoiseFor is the noise of one raw bias frame of a group's read-out, ADU.
func (cs *Cameras) ReadNoiseFor(g *frames.Group) stats.Value {
	if b := cs.nearestBias(g); b != nil {
		return b.noiseOfOne()
	}
	return stats.Missing(NoBiasFrames)
}

// nearestBias is the bias set that fits a group best: same sensor settings, at
// its set point before one that was not, nearest in temperature; nil when there
// is none. Masters that some program made stand behind frames.
func (cs *Cameras) nearestBias(g *frames.Group) *biasRun {
	var fit []*biasRun
	for _, list := range [][]*biasRun{cs.biases, cs.lent} {
		for _, b := range list {
			if b.ok() && SameReadout(b.group, g) {
				fit = append(fit, b)
			}
		}
		if len(fit) > 0 {
			break
		}
	}
	if len(fit) == 0 {
		return nil
	}
	return slices.MinFunc(fit, func(x, y *biasRun) int {
		return cmp.Or(cmp.Compare(x.astray(), y.astray()), cmp.Compare(tempGap(x.group, g), tempGap(y.group, g)))
	})
}

// biasFor is nearestBias, or why there is none that darks can be held against:
// the offset of a sensor whose temperature was left to itself is not theirs.
func (cs *Cameras) biasFor(g *frames.Group) (*biasRun, fact.Fact) {
	b := cs.nearestBias(g)
	if b == nil {
		for _, o := range cs.biases {
			if o.why.Code != "" && SameReadout(o.group, g) {
				return nil, fact.Of(BiasUnusable, fact.Reason(o.why))
			}
		}
	}
	if b == nil || b.astray() == 0 || tempGap(b.group, g) <= cs.opt.TempTolC {
		return b, fact.Fact{}
	}
	return nil, fact.Of(BiasAstray, fact.Text("bias", b.group.Label()), fact.Number("sensor_c", TemperatureOf(b.group)),
		fact.Number("set_c", b.group.SetTemp), fact.Number("darks_c", TemperatureOf(g)))
}

// Readout are what turns samples into electrons.
type Readout struct {
	Gain       stats.Value // e-/ADU, measured, else of an earlier night, else the header's, else missing
	GainFrom   string      // "measured", "memory", "header" or ""
	ReadNoise  stats.Value // ADU
	Electrons  stats.Value // the same in e-
	Saturation float64     // ADU; NaN when not known
}

// Readout is that of the mode that a group was shot in.
func (cs *Cameras) Readout(g *frames.Group) Readout {
	m := cs.modeOf(g)
	return Readout{m.gain, m.gainFrom, m.readNoise, times(m.readNoise, m.gain), m.saturation}
}

// DarkRate is the dark current in e-/s at a group's temperature: measured there, or carried
// there by the law of the camera; where that is not known, by the usual doubling from a
// temperature nearby, from, else NaN.
func (cs *Cameras) DarkRate(g *frames.Group) (rate stats.Value, from float64) {
	m, celsius := cs.modeOf(g), TemperatureOf(g)
	v, _ := m.darkAt(celsius, cs.opt.TempTolC)
	if v.Why.Code == NoLaw {
		if v, from, ok := m.usuallyAt(celsius); ok {
			return v, from
		}
	}
	return v, math.NaN()
}

// OffsetAbove is by how much the offset of darks lies above their bias, ADU, where their
// level is more than their noise lets dark current make: the one was shot with another offset
// than the other, or by another camera. 0 where nothing tells it, and where it is no more
// than the read noise.
func (cs *Cameras) OffsetAbove(g *frames.Group) float64 {
	for _, d := range cs.darks {
		if d.group != g || d.series == nil || d.series.Finding.Code != NoiseBelieved || d.bias == nil {
			continue
		}
		if moved := d.signal.V - d.series.Rate.V*d.group.Exposure; moved > d.Noise.Or(0) {
			return moved
		}
	}
	return 0
}

// ActivationEV is by how much the dark current grows with temperature in the mode that a
// group was shot in, of this night or an earlier one.
func (cs *Cameras) ActivationEV(g *frames.Group) stats.Value {
	m := cs.modeOf(g)
	if v := m.law.ActivationEV; v.OK() || !m.lawWhen.known() {
		return v
	}
	return m.oldEnergy
}

// BiasNear is the set of bias frames that fits a group best; nil when there is none.
func (cs *Cameras) BiasNear(g *frames.Group) *frames.Group {
	if b := cs.nearestBias(g); b != nil {
		return b.group
	}
	return nil
}
