package sensor

import (
	"math"

	"fitsqa/internal/stats"
)

// A header's e-/ADU may be meant for a step of the converter, while its samples were scaled
// up to 16 bits by the number of steps. Where no flats measure the gain, the noise between
// two subs tells, which is that of their light as it is for two flats (Howell, Handbook of
// CCD Astronomy, 2nd ed., section 4.3; from memory): the one is off by the whole step, 4 or
// 16 mostly.

// stepTold is within which factor the subs' gain must meet a claim: levels of two subs,
// and dark current where the camera hides it, are no measure of a gain.
const stepTold = 1.5

// claimFor is how many ADU the header's gain is for, 1 or a step of the samples, by the
// subs; NaN where they do not tell.
func (m *mode) claimFor(cs *Cameras) float64 {
	step := m.step(cs)
	if !(step > 1) || math.IsNaN(m.header) {
		return math.NaN()
	}
	bySubs := m.gainBySubs(cs)
	for _, adu := range []float64{1, step} {
		if times := m.header / adu / bySubs; times < stepTold && times > 1/stepTold {
			return adu
		}
	}
	return math.NaN()
}

// step is the distance between the samples of the mode's frames, ADU; 0 when not known.
func (m *mode) step(cs *Cameras) float64 {
	for _, b := range cs.biases {
		if m.has(b.group) && b.ok() && b.Step > 0 {
			return b.Step
		}
	}
	for _, d := range cs.darks {
		if m.has(d.group) && d.ok() && d.Step > 0 {
			return d.Step
		}
	}
	return 0
}

// gainBySubs is about the gain by two subs, e-/ADU; NaN where none tell it.
func (m *mode) gainBySubs(cs *Cameras) float64 {
	for _, g := range cs.lights {
		bias := cs.nearestBias(g)
		if !m.has(g) || g.Processed() || len(g.Frames) < 2 || bias == nil || !bias.Noise.OK() {
			continue
		}
		x, err := cs.stacker.Raw(g.Frames[0], g.Width, g.Height)
		if err != nil {
			continue
		}
		y, err := cs.stacker.Raw(g.Frames[1], g.Width, g.Height)
		if err != nil || len(x) == 0 || len(x) != len(y) {
			continue
		}
		cs.AskedSubs = true
		light := (stats.Median(x)+stats.Median(y))/2 - bias.offset.V
		for i := range x {
			x[i] -= y[i]
		}
		noise, read := SpatialNoise(x, g.Width), bias.Noise.V
		if variance := noise*noise/2 - read*read; light > read && variance > read*read/4 {
			return light / variance
		}
	}
	return math.NaN()
}
