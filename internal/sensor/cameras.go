// Package sensor measures cameras by their bias frames, darks and flats: read noise,
// gain and transfer curve, dark current and its law of temperature, fixed pattern,
// banding, telegraph pixels, glow, response, linearity, saturation.
//
// Model: a sample is offset + fixed pattern + (dark + light) / gain + noise, in
// ADU; dark and light are Poisson counts of electrons, the noise of read-out is
// Gaussian and white, the gain is one number a camera mode (e-/ADU), the fixed
// pattern does not change within a set. What breaks the model is measured as
// such: telegraph pixels, banding, drift, hot pixels, glow, light leaks,
// flicker. Particle hits are rejected, one a pixel and set.
//
// Sources: EMVA Standard 1288 release 3.1 (2016) for temporal and spatial
// variance, photon transfer and linearity; Howell, Handbook of CCD Astronomy
// (2nd ed.) section 4.3 for two flats and two biases; the ACS Data Handbook
// section 4.2, citing Janesick (2001), for quantisation; Widenhorn et al.
// (2002) for the temperature law. Formulas of the first two are from memory.
//
// Not here: masters and what fits which subs (package calib); colour cubes are no
// single exposures and are refused.
package sensor

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// Options steer what is measured of the cameras.
type Options struct {
	Workers     int
	TempTolC    float64      // darks of temperatures no further apart are of one series, °C
	ExposureTol float64      // darks of the flats' exposure differ from it by no more than this fraction
	HotSigma    float64      // a hot pixel stands so many robust sigma above the median dark rate, or more
	AllHot      bool         // every hot pixel is listed, not only the hottest of a set
	Remembered  []Remembered // figures of earlier nights, for modes whose own frames do not tell them
	Room        *stack.Room  // where masters are kept; nil: in memory
}

// Cameras measures the cameras of a run by their bias frames, darks and flats:
// first measureBias, then measure.
type Cameras struct {
	opt     Options
	stacker *stack.Stacker

	biases []*biasRun
	flats  []*flatRun
	darks  []*darkRun
	lights []*frames.Group
	ready  []*frames.Group // masters that some program made: their headers' claims count
	modes  []*mode

	Combined []*frames.Group // single frames whose noise shows that they are masters
	Unsure   []*frames.Group // single frames that may be masters or raw
}

// New has nothing measured yet.
func New(st *stack.Stacker, opt Options) *Cameras {
	return &Cameras{opt: opt, stacker: st}
}

// MeasureBias measures sets of bias frames.
func (cs *Cameras) MeasureBias(groups []*frames.Group) {
	for _, g := range groups {
		b := &biasRun{group: g}
		cs.biases = append(cs.biases, b)
		b.measure(cs)
	}
}

// Measure measures sets of darks and flats, and the modes of the cameras, which
// subs and masters tell of too.
func (cs *Cameras) Measure(darks, flats, lights, ready []*frames.Group) {
	cs.lights, cs.ready = lights, ready
	for _, g := range darks { // before the flats, which darks of their exposure may belong to
		d := &darkRun{group: g}
		cs.darks = append(cs.darks, d)
		d.stackDarks(cs)
	}
	for _, g := range flats {
		f := &flatRun{group: g}
		cs.flats = append(cs.flats, f)
		f.measure(cs)
	}
	cs.settleModes()
	cs.judgeLone()
	for _, d := range cs.darks {
		d.measure(cs)
	}
	for _, m := range cs.modes {
		m.settleDarks(cs)
	}
}

// Sets are what was measured: bias frames, darks, flats, then the modes of the
// cameras, with labels of their own.
func (cs *Cameras) Sets() []*Set {
	var all []*Set
	for _, b := range cs.biases {
		all = append(all, b.set(cs))
	}
	for _, d := range cs.darks {
		all = append(all, d.set(cs))
	}
	cs.seatDust()
	for _, f := range cs.flats {
		all = append(all, f.set(cs))
	}
	for _, m := range cs.modes {
		if m.known(cs) {
			all = append(all, m.set(cs))
		}
	}
	taken := map[string]bool{}
	for _, s := range all {
		s.Label = UniqueLabel(taken, s.Label)
	}
	return all
}

// measuredSet is what was made of one group of frames.
type measuredSet struct {
	why    string // why nothing could be measured; "" when it could
	run    *stack.Series
	master *stack.Plane
	hot    []int32
}

// find is the measured set of a group; the zero one where there is none.
func (cs *Cameras) find(g *frames.Group) measuredSet {
	for _, b := range cs.biases {
		if b.group == g {
			return measuredSet{b.why, b.Series, b.master, nil}
		}
	}
	for _, d := range cs.darks {
		if d.group == g {
			return measuredSet{d.why, d.Series, d.master, d.hot}
		}
	}
	for _, f := range cs.flats {
		if f.group == g {
			return measuredSet{f.why, f.Series, f.master, nil}
		}
	}
	return measuredSet{}
}

// Why tells why nothing could be measured of a set; "" when it could.
func (cs *Cameras) Why(g *frames.Group) string { return cs.find(g).why }

// MasterOf is the master of a set; nil where none could be made of it.
func (cs *Cameras) MasterOf(g *frames.Group) *stack.Plane { return cs.find(g).master }

// HotOf are the indices of the hot pixels of a set of darks, sorted.
func (cs *Cameras) HotOf(g *frames.Group) []int32 { return cs.find(g).hot }

// MadeOf are the frames that a set's master is made of; nil when it has none.
func (cs *Cameras) MadeOf(g *frames.Group) []*frames.Frame {
	if s := cs.find(g); s.master != nil {
		return s.run.Frames
	}
	return nil
}

// BiasNear is the set of bias frames that fits a group best; nil when there is none.
func (cs *Cameras) BiasNear(g *frames.Group) *frames.Group {
	if b := cs.nearestBias(g); b != nil {
		return b.group
	}
	return nil
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

// DarkRate is the dark current in e-/s at a group's temperature, and in words how it
// is known.
func (cs *Cameras) DarkRate(g *frames.Group) (stats.Value, string) {
	return cs.modeOf(g).darkAt(TemperatureOf(g), cs.opt.TempTolC)
}

// ReadNoiseFor is the noise of one raw bias frame of a group's read-out, ADU.
func (cs *Cameras) ReadNoiseFor(g *frames.Group) stats.Value {
	if b := cs.nearestBias(g); b != nil {
		return b.noiseOfOne()
	}
	return stats.Missing("no bias frames")
}

// nearestBias is the bias set that fits a group best: same sensor settings, at
// its set point before one that was not, nearest in temperature; nil when there
// is none.
func (cs *Cameras) nearestBias(g *frames.Group) *biasRun {
	var fit []*biasRun
	for _, b := range cs.biases {
		if b.ok() && SameReadout(b.group, g) {
			fit = append(fit, b)
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
func (cs *Cameras) biasFor(g *frames.Group) (*biasRun, string) {
	b := cs.nearestBias(g)
	if b == nil || b.astray() == 0 || tempGap(b.group, g) <= cs.opt.TempTolC {
		return b, ""
	}
	return nil, fmt.Sprintf("%s has its sensor at %.1f °C in place of %.1f °C, darks at %.1f °C: its offset and pattern are not the darks'; shoot bias frames with the cooler on",
		b.group.Label(), TemperatureOf(b.group), b.group.SetTemp, TemperatureOf(g))
}

// astray is by how much the sensor of a bias set was off its set point, °C,
// beyond what counts as there.
func (b *biasRun) astray() float64 {
	if d := math.Abs(b.group.Temperature() - b.group.SetTemp); d > 0 {
		return d
	}
	return 0 // there, or not known
}

// SameReadout tells whether two groups share camera, size, binning, gain and
// offset as far as their headers tell.
func SameReadout(a, b *frames.Group) bool {
	return a.Camera == b.Camera && a.Width == b.Width && a.Height == b.Height && a.BinX == b.BinX && a.BinY == b.BinY &&
		agree(a.GainSetting, b.GainSetting) && agree(a.OffsetSetting, b.OffsetSetting)
}

// agree compares settings, an unknown one agreeing with any.
func agree(a, b float64) bool { return a == b || math.IsNaN(a) || math.IsNaN(b) }

// tempGap is the temperature difference in °C, a large one when unknown.
func tempGap(a, b *frames.Group) float64 {
	d := math.Abs(TemperatureOf(a) - TemperatureOf(b))
	if math.IsNaN(d) {
		return 1000
	}
	return d
}
