package calib

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// maxDarkScale is how far a dark may be stretched in time: beyond, its noise
// and the errors of the bias grow past what it mends.
const maxDarkScale = 2

// For is the calibration that fits a group of subs. Its planes are shared between
// calls.
//
// A dark of another exposure is used when its temperature fits and there is a
// bias: the dark signal is scaled by the exposures, at most doubled.
func (r *Result) For(lights *frames.Group) Calibration {
	none := stats.Missing(NotMeasured)
	c := Calibration{Gain: none, ReadNoise: none, DarkRate: none, Saturation: math.NaN()}
	if k := r.restored[lights]; k != nil {
		return k.calibration
	}
	a := r.analysis
	if a == nil || lights == nil {
		return c
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	m := a.cameras.Readout(lights)
	c.Gain, c.ReadNoise, c.Saturation = m.Gain, m.Electrons, m.Saturation
	rate, from := a.cameras.DarkRate(lights)
	c.DarkRate = rate
	c.Warmth = Warmth{sensor.TemperatureOf(lights), math.NaN(), a.cameras.ActivationEV(lights), !math.IsNaN(from), from}
	c.Overscan = len(lights.Frames) > 0 && lights.Frames[0].Meta.Overscan
	if c.Processed = lights.Processed(); c.Processed {
		return c
	}
	a.subtract(&c, lights)
	a.flatten(&c, lights)
	return c
}

// WithoutDark is the calibration with the bias in place of the dark that is taken off the subs, for
// what they themselves show of the sensor, and the dark's level above it, ADU; false where no bias
// fits. Where no dark is taken off it is the same.
func (r *Result) WithoutDark(lights *frames.Group) (c Calibration, above float64, ok bool) {
	c = r.For(lights)
	if !c.DarkTaken {
		return c, 0, true
	}
	planes, a := c.Planes(), r.analysis
	if a == nil {
		return c, 0, false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	bias := a.best(frames.Bias, lights)
	if bias == nil || !bias.only(OfTemperature) {
		return c, 0, false
	}
	b := a.planeOf(bias.group)
	if b == nil {
		return c, 0, false
	}
	above = stats.Median(planes.Subtract.Pixels()) - stats.Median(b.Pixels())
	c.planes, c.late, c.DarkTaken = Planes{b, planes.Flat}, nil, false
	return c, above, true
}

// NoOffset is why the level of subs above the camera's offset is not known.
func (c *Calibration) NoOffset() fact.Fact {
	if c.Processed {
		return fact.Of(CalibratedBefore)
	}
	if c.Overscan {
		return fact.Of(OverscanUnused)
	}
	return fact.Of(NothingFits)
}

func (a *analysis) subtract(c *Calibration, lights *frames.Group) {
	dark, bias := a.best(frames.Dark, lights), a.best(frames.Bias, lights)
	if dark != nil && len(dark.mismatches) == 0 {
		if m := a.planeOf(dark.group); m != nil {
			c.OffsetMoved = a.offsetMoved(m, dark.group, lights)
			c.planes.Subtract, c.HasOffset, c.DarkTaken = a.lowered(m, dark.group, c.OffsetMoved), true, true
			c.Warmth.TakenC = sensor.TemperatureOf(dark.group)
			c.Hot = a.cameras.HotOf(dark.group)
			return
		}
	}
	if dark != nil && sensor.SameReadout(dark.group, lights) {
		c.Hot = a.cameras.HotOf(dark.group) // hot pixels stay where they are at any exposure
	}
	if bias == nil || !bias.only(OfTemperature) {
		return
	}
	b := a.planeOf(bias.group)
	if b == nil {
		return
	}
	c.planes.Subtract, c.HasOffset = b, true
	if dark != nil && dark.only(OfExposure) {
		factor := lights.Exposure / dark.group.Exposure
		if m := a.scaledDark(scaling{dark.group, bias.group, factor}); m != nil {
			c.planes.Subtract, c.DarkTaken = m, true
			c.Warmth.TakenC = sensor.TemperatureOf(dark.group)
			return
		}
	}
}

// offsetMoved is by how much darks lie above the offset of subs, ADU: where they lie so far
// above the bias, the subs' noise tells which of the two is theirs, as light <= gain x
// variance. 0 where the darks' is, or the noise does not tell.
func (a *analysis) offsetMoved(dark *stack.Plane, g, lights *frames.Group) float64 {
	const (
		tells = 0.15 // of the light: neighbouring pixels differ by more than noise
		surer = 3    // times nearer
	)
	moved := a.cameras.OffsetAbove(g)
	readout := a.cameras.Readout(lights)
	if moved == 0 || !readout.Gain.OK() || !readout.ReadNoise.OK() {
		return 0
	}
	a.askedSubs = true
	of, pixels := a.subLike(lights)
	if of == nil || len(pixels) != dark.Len() {
		return 0
	}
	above := stats.Median(pixels) - stats.Median(dark.Pixels())
	noise := sensor.SpatialNoise(pixels, lights.Width)
	light := readout.Gain.V * (noise*noise - readout.ReadNoise.V*readout.ReadNoise.V)
	if moved < tells*light || math.Abs(above+moved-light)*surer > math.Abs(above-light) {
		return 0
	}
	return moved
}

// lowered is a dark without so much of its offset.
func (a *analysis) lowered(dark *stack.Plane, g *frames.Group, by float64) *stack.Plane {
	if by == 0 {
		return dark
	}
	s := scaling{g, nil, by}
	if p, known := a.scaled[s]; known {
		return p
	}
	out := dark.Copy()
	if out == nil {
		return dark
	}
	for i := range out {
		out[i] -= float32(by)
	}
	if a.scaled == nil {
		a.scaled = map[scaling]*stack.Plane{}
	}
	a.scaled[s] = a.opt.Room.Add(out)
	return a.scaled[s]
}

// flatten chooses the flat: its filter, size and binning must fit; another
// gain or offset does not change how the light falls.
func (a *analysis) flatten(c *Calibration, lights *frames.Group) {
	flat := a.best(frames.Flat, lights)
	if flat == nil {
		return
	}
	if flat.ofOtherLight() {
		return
	}
	m := a.planeOf(flat.group)
	if m == nil {
		return
	}
	c.planes.Flat, c.Flattened = m, true
}

// DarkSetFor is the dark set that describes the sensor best at the subs'
// settings; nil when there is none.
func (r *Result) DarkSetFor(lights *frames.Group) *sensor.Set { return r.setFor(frames.Dark, lights) }

// BiasSetFor is the bias set that fits the subs best; nil when there is none.
func (r *Result) BiasSetFor(lights *frames.Group) *sensor.Set { return r.setFor(frames.Bias, lights) }

// FlatSetFor is the flat set that the subs are divided by, as far as its frames can be
// used; nil when none shows their light.
func (r *Result) FlatSetFor(lights *frames.Group) *sensor.Set { return r.setFor(frames.Flat, lights) }

func (r *Result) setFor(kind frames.Kind, lights *frames.Group) *sensor.Set {
	if k := r.restored[lights]; k != nil {
		return k.sets[kind]
	}
	if r.analysis == nil || lights == nil {
		return nil
	}
	c := r.analysis.best(kind, lights)
	switch {
	case c == nil:
		return nil
	case kind == frames.Flat && c.ofOtherLight(), kind != frames.Flat && !sensor.SameReadout(c.group, lights):
		return nil
	}
	for _, s := range r.Sets {
		if s.Group == c.group {
			return s
		}
	}
	return nil
}

// Planes are those of the calibration, made again where they come from a snapshot.
func (c *Calibration) Planes() Planes {
	if c.late != nil {
		return c.late()
	}
	return c.planes
}

// Figures is the calibration without its planes.
func (c Calibration) Figures() Calibration {
	c.planes, c.late = Planes{}, nil
	return c
}

// scaledDark makes it once; nil where one of the two cannot be read, and where it
// would be stretched too far.
func (a *analysis) scaledDark(s scaling) *stack.Plane {
	if !(s.factor > 0 && s.factor <= maxDarkScale) {
		return nil
	}
	if p, known := a.scaled[s]; known {
		return p
	}
	dark, bias := a.masterOf(s.dark), a.masterOf(s.bias)
	if dark == nil || bias == nil {
		return nil
	}
	out := stats.Floats(len(dark))
	f := float32(s.factor)
	for i, p := range bias {
		out[i] = p + f*(dark[i]-p)
	}
	if a.scaled == nil {
		a.scaled = map[scaling]*stack.Plane{}
	}
	a.scaled[s] = a.opt.Room.Add(out)
	return a.scaled[s]
}

// Apply corrects raw pixels of one plane in place: (raw - Subtract) / Flat of its planes.
// They are those from the index first on of a plane of size pixels. Where the
// flat has no light the pixel becomes NaN.
func (c *Calibration) Apply(pixels []float32, first, size int) {
	m := c.Planes()
	if m.Subtract.Len() == size {
		stats.TakeRow(pixels, m.Subtract.Strip(first, len(pixels)))
	}
	if m.Flat.Len() == size {
		stats.DivideRow(pixels, m.Flat.Strip(first, len(pixels)))
	}
}
