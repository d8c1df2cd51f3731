package calib

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

type master struct {
	pixels []float32 // ADU; flats: relative to their mean
	mended bool      // a bias that had been taken off was added again
}

// addMasters keeps the masters that some program made as groups of one.
func (a *analysis) addMasters(fs []*frames.Frame) {
	a.ready = map[frames.Kind][]*frames.Group{}
	for _, f := range fs {
		switch f.Kind {
		case frames.Bias, frames.Dark, frames.Flat:
		default:
			continue
		}
		m := f.Meta
		g := &frames.Group{
			Kind: f.Kind, Camera: m.Camera, Width: f.Image.Width, Height: f.Image.Height, BinX: m.BinX, BinY: m.BinY,
			GainSetting: m.GainSetting, OffsetSetting: m.OffsetSetting, ReadoutMode: m.ReadoutMode, SetTemp: m.SetTemp, Exposure: m.Exposure, Frames: []*frames.Frame{f},
		}
		if math.IsNaN(g.SetTemp) {
			g.SetTemp = m.SensorTemp
		}
		if f.Kind == frames.Flat {
			g.Filter = m.Filter
		}
		a.ready[f.Kind] = append(a.ready[f.Kind], g)
	}
}

// planeOf is a group's master; nil when there is none in ADU, or its file can no
// longer be read.
func (a *analysis) planeOf(g *frames.Group) *stack.Plane {
	if p := a.cameras.MasterOf(g); p != nil {
		return p
	}
	p, known := a.masters[g]
	if !known && a.isMaster(g) {
		if m := a.readMaster(g); m != nil {
			p = a.opt.Room.Add(m.pixels)
			if m.mended {
				a.mended = append(a.mended, g)
			}
		}
		a.masters[g] = p
	}
	return p
}

// masterOf is the pixels of planeOf.
func (a *analysis) masterOf(g *frames.Group) []float32 { return a.planeOf(g).Pixels() }

// readMaster reads a master that some program made; nil when it cannot be used,
// which refused says.
func (a *analysis) readMaster(g *frames.Group) *master {
	m, why := a.openMaster(g)
	if why.Code == "" && g.Kind != frames.Flat {
		why = a.asOne(m, g)
	}
	if why.Code == "" && g.Kind == frames.Dark {
		if why = a.asRate(m, g); why.Code == "" {
			why = a.putBiasBack(m, g)
		}
	}
	if why.Code != "" {
		if a.refused == nil {
			a.refused = map[*frames.Group]fact.Fact{}
		}
		a.refused[g] = why
		return nil
	}
	return m
}

// openMaster reads a master. One whose samples run from 0 to 1 is brought to the subs'
// scale where these bear that out; else it is not in ADU and fits no raw sub. A flat is
// divided by its mean anyway.
func (a *analysis) openMaster(g *frames.Group) (m *master, why fact.Fact) {
	pixels, err := a.openRaw(g)
	if err != nil {
		return nil, fact.Of(MasterUnread, fact.Text("error", err.Error()))
	}
	a.offPedestal(pixels, g)
	m = &master{pixels: pixels}
	if g.Kind == frames.Flat {
		sensor.Normalise(m.pixels, g)
		return m, fact.Fact{}
	}
	if top := stats.Quantile(m.pixels, 0.99); top <= 1 && !a.scaledToOne(m.pixels, g) {
		return nil, fact.Of(MasterScaled, fact.Number("end", top))
	}
	if g.Kind == frames.Dark { // which may go by the bias beside it
		for _, b := range a.ready[frames.Bias] {
			a.planeOf(b)
		}
	}
	if step, is := a.inSteps(m.pixels, g); is {
		if g.Kind == frames.Bias {
			a.stepped = append(a.stepped, g)
		}
		for i := range m.pixels {
			m.pixels[i] *= float32(step)
		}
	}
	return m, fact.Fact{}
}

// isMaster tells whether a group is a master that some program made.
func (a *analysis) isMaster(g *frames.Group) bool {
	return g.Frames[0].Master || slices.Contains(a.adopted, g) || slices.Contains(a.cameras.Combined, g)
}

const (
	aboveSubs  = 1.05 // of the subs' level: offsets wander by less
	fastGrowth = 5    // °C in which a dark current doubles at the soonest (common practice, no source)
	surelySum  = 4    // frames from which no dark current looks like as many offsets
)

// mostCombined is of how many frames a master is made at most: noise below what
// these would leave is that of samples in another unit.
const mostCombined = 1000

// asOne brings a master that is a sum of frames to the level of one, where its header
// counts them. A sum lies above what dark current can make of the subs' own level, light
// and all, a bias above raw darks, or at as many bias levels, or its hot pixels are as many
// times as bright as those of the subs; where nothing counts its frames it cannot be used.
func (a *analysis) asOne(m *master, g *frames.Group) (why fact.Fact) {
	level, n := stats.Median(m.pixels), float64(g.Frames[0].Meta.Combined)
	sum := false
	if b := a.cameras.BiasNear(g); b != nil {
		times := level / stats.Median(a.masterOf(b))
		if times < 1.5 {
			return fact.Fact{} // of one offset
		}
		sum = n >= surelySum && times > 0.95*n
	}
	lights, sub := a.subLike(g)
	sum = sum || n > 1 && a.hotTimes(m, g, lights, sub, n)
	most := math.Inf(1)
	if lights != nil {
		most = aboveSubs * stats.Median(sub) * max(1, g.Exposure/lights.Exposure)
		if warmer := sensor.TemperatureOf(g) - sensor.TemperatureOf(lights); warmer > 0 {
			most *= math.Exp2(warmer / fastGrowth)
		}
	}
	if g.Kind == frames.Bias {
		most = min(most, aboveSubs*a.lowestDark(g))
	}
	switch {
	case !sum && !(level > most):
		return fact.Fact{}
	case n > 1 && level/n <= most:
		for i := range m.pixels {
			m.pixels[i] /= float32(n)
		}
		return fact.Fact{}
	}
	return fact.Of(MasterSum, fact.Number("level_adu", level), fact.Number("subs_adu", stats.Median(sub)))
}

// lowestDark is the level of the first raw frame of darks of a read-out, the lowest of
// several sets; infinite where there are none.
func (a *analysis) lowestDark(g *frames.Group) float64 {
	lowest := math.Inf(1)
	for _, d := range a.darks {
		if !sensor.SameReadout(d, g) {
			continue
		}
		if pixels, err := a.openRaw(d); err == nil && len(pixels) > 0 {
			lowest = min(lowest, stats.Median(pixels))
		}
	}
	return lowest
}

// hotTimes tells that the hot pixels of a master dark are so many times as bright as in
// subs of its exposure and temperature, and surely not as bright.
func (a *analysis) hotTimes(m *master, g, lights *frames.Group, sub []float32, times float64) bool {
	const near = 1.3 // as alike allows
	if lights == nil || g.Kind != frames.Dark || len(sub) != len(m.pixels) {
		return false
	}
	if !alike(g, lights) {
		return false
	}
	longer := g.Exposure / lights.Exposure
	share, err := hotShare(m.pixels, sub, g.Width)
	share, err = share*longer, err*longer
	return share+5*err < 1/near && share+3*err > 1/(times*near) && share-3*err < near/times
}

// hotShare is by how much hot pixels stand out of their neighbours of one colour in a sub,
// as a share of what they do in a master, with its error: the slope of the one against the
// other of those that stand out of the master by far. Where a sub has more than the master
// and its noise could make there is a star.
func hotShare(master, sub []float32, width int) (share, err float64) {
	const clear, starry = 10, 5
	noise := sensor.SpatialNoise(sub, width)
	limit, odd := float32(clear*sensor.SpatialNoise(master, width)), float32(starry*noise)
	return slopeOff(master, sub, width, noise, func(x, y float32) bool { return x > limit && !(y > x+odd || y < -odd) })
}

// asRate tells that a master is in ADU a second: it has less noise than a
// thousand frames combined could, and so it lies far below any offset too.
func (a *analysis) asRate(m *master, g *frames.Group) (why fact.Fact) {
	read := a.cameras.ReadNoiseFor(g)
	if v := a.cameras.Readout(g).ReadNoise; !read.OK() && v.OK() && !math.IsNaN(v.Err) {
		read = v
	}
	if noise := sensor.SpatialNoise(m.pixels, g.Width); read.OK() && g.Exposure > 1 && noise < read.V/math.Sqrt(mostCombined) {
		return fact.Of(MasterRate, fact.Number("differ_adu", noise), fact.Number("read_noise_adu", read.V))
	}
	return fact.Fact{}
}

// putBiasBack adds the master bias to a master dark from which one was taken
// off: it lies far below the bias, or about zero with samples below. Without a
// bias it tells why the dark cannot be used: it would leave the offset in the subs.
func (a *analysis) putBiasBack(m *master, dark *frames.Group) (why fact.Fact) {
	level, lowest := stats.Median(m.pixels), stats.Quantile(m.pixels, 0.01)
	var bias []float32
	if g := a.cameras.BiasNear(dark); g != nil {
		bias = a.masterOf(g)
	}
	for _, g := range a.ready[frames.Bias] {
		if bias == nil && sensor.SameReadout(g, dark) {
			bias = a.masterOf(g)
		}
	}
	switch {
	case bias == nil && lowest < 0:
		return fact.Of(MasterLacksBias, fact.Number("level_adu", level))
	case bias == nil:
		return a.underSubs(level, dark)
	case lowest >= 0 && level > bornAbove*stats.Median(bias):
		return fact.Fact{}
	}
	for i, b := range bias {
		m.pixels[i] += b
	}
	m.mended = true
	return fact.Fact{}
}

// sixteenBits is what programs divide by that scale 16-bit samples to 1: common practice,
// no source.
const sixteenBits = 65535

// offPedestal takes off what a program added to a master so that no sample falls below
// 0: by the header, which has it of either sign, less what the subs' own headers have, as
// capture programs write it of raw frames too.
func (a *analysis) offPedestal(pixels []float32, g *frames.Group) {
	added := math.Abs(g.Frames[0].Meta.Pedestal)
	for _, l := range a.lights {
		if sensor.SameReadout(l, g) {
			added -= math.Abs(l.Frames[0].Meta.Pedestal)
			break
		}
	}
	if !(added > 0) {
		return
	}
	if added > 1 && stats.Quantile(pixels, 0.99) <= 1 { // in the unit that they had before they were scaled
		added /= sixteenBits
	}
	for i := range pixels {
		pixels[i] -= float32(added)
	}
}

// scaledToOne tells that a master is of samples scaled to 1, and brings it to the scale of
// the subs. Theirs run to 1, too; or, multiplied by what 16-bit samples are divided by, it
// lies under them, where light leaves it (see underSubs) or a bias of the same scale was
// taken off it, and its pixels differ by less than those of a raw sub, as those of a rate,
// which is smaller by the exposure, would not.
func (a *analysis) scaledToOne(pixels []float32, g *frames.Group) bool {
	lights, sub := a.subLike(g)
	if lights == nil {
		return false
	}
	if stats.Quantile(sub, 0.99) <= 1 {
		return true
	}
	level, noise := sixteenBits*stats.Median(pixels), sixteenBits*sensor.SpatialNoise(pixels, g.Width)
	if !(level < stats.Median(sub)) || !(noise < sensor.SpatialNoise(sub, lights.Width)) {
		return false
	}
	if a.underSub(level, lights, sub).Code != "" && !(g.Kind == frames.Dark && a.biasToOne(g)) {
		return false
	}
	for i := range pixels {
		pixels[i] *= sixteenBits
	}
	return true
}

// biasToOne tells that the master bias beside a master dark is one of samples scaled to 1:
// it tells then whether it was taken off the dark.
func (a *analysis) biasToOne(dark *frames.Group) bool {
	return slices.ContainsFunc(a.ready[frames.Bias], func(g *frames.Group) bool {
		pixels, err := a.openRaw(g)
		return err == nil && sensor.SameReadout(g, dark) && stats.Quantile(pixels, 0.99) <= 1 && a.planeOf(g) != nil
	})
}
