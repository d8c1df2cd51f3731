package calib

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// farUnder is the share of the subs' level under which a master dark is not taken
// without a bias or a gain to test it: offsets are seldom so small beside the sky.
const farUnder = 0.1

// underSubs holds the level of a master dark against the subs where there is no bias
// to hold it against. If the camera's offset is in it, what the subs have more is
// light, whose shot noise they must show: light <= gain x variance, ADU. Where they
// show less than half of it (a fifth by a gain that only headers claim, which for
// samples of another number of bits is off by a factor of 4) a bias was taken off the
// dark, or it was divided by the exposure. why tells; no code where the dark can be used.
func (a *analysis) underSubs(level float64, dark *frames.Group) (why fact.Fact) {
	lights, pixels := a.subLike(dark)
	if lights == nil {
		return fact.Fact{}
	}
	return a.underSub(level, lights, pixels)
}

// subLike is the first raw sub of the read-out of some calibration frames that can be
// read, with its group; nil where there is none.
func (a *analysis) subLike(g *frames.Group) (lights *frames.Group, pixels []float32) {
	for _, l := range a.lights {
		if l.Processed() || !sensor.SameReadout(l, g) {
			continue
		}
		if pixels, err := a.openRaw(l); err == nil && len(pixels) > 0 {
			return l, pixels
		}
	}
	return nil, nil
}

func (a *analysis) underSub(level float64, lights *frames.Group, pixels []float32) (why fact.Fact) {
	sub, readout := stats.Median(pixels), a.cameras.Readout(lights)
	gain, from := readout.Gain, readout.GainFrom
	if level > bornAbove*sub {
		return fact.Fact{}
	}
	if !gain.OK() {
		if level > farUnder*sub {
			return fact.Fact{}
		}
		return fact.Of(MasterUntold, fact.Number("level_adu", level), fact.Number("subs_adu", sub))
	}
	noise := sensor.SpatialNoise(pixels, lights.Width)
	light, allow := gain.V*noise*noise, 2.0
	if from == "header" {
		allow = 5
	}
	if sub-level > allow*light {
		return fact.Of(MasterUnderSubs, fact.Number("level_adu", level), fact.Number("subs_adu", sub), fact.Number("light_adu", light))
	}
	return fact.Fact{}
}

// bornAbove is the share of the bias's level above which a master dark still
// holds its offset: the offsets of two sessions differ by far less than half.
const bornAbove = 0.5

// openRaw is the pixels of a group's first frame as they are.
func (a *analysis) openRaw(g *frames.Group) ([]float32, error) {
	return a.stacker.Raw(g.Frames[0], g.Width, g.Height)
}
