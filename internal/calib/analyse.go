package calib

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"fitsqa/internal/stack"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// analysis is the work of one Analyse and what For needs later.
type analysis struct {
	opt     Options
	stacker *stack.Stacker

	lights []*frames.Group
	biases []*biasRun
	flats  []*flatRun
	darks  []*darkRun
	modes  []*mode
	ready  map[frames.Kind][]*frames.Group // masters found in the folder, groups of one

	adopted []*frames.Group          // masters that no header calls so
	unsure  []*frames.Group          // single frames that may be masters or raw
	mended  []*frames.Group          // master darks whose bias was added again
	refused map[*frames.Group]string // masters that cannot be used, and why

	mu      sync.Mutex // guards masters and scaled
	masters map[*frames.Group]*stack.Plane
	scaled  map[scaling]*stack.Plane
}

// mode is what is known of a camera's mode.
type mode struct {
	Mode

	gain           stats.Value // e-/ADU, the one used
	gainFrom       string      // "measured", "memory", "header" or ""
	gainWhen       string      // of which night the remembered one is, in words
	readNoiseFrom  string      // where a read noise that was not measured is from, in words
	lawWhen        string      // of which night a remembered temperature law is, in words
	measured       stats.Value // e-/ADU from flats
	header         float64     // e-/ADU, median of what headers claim
	readNoise      stats.Value // ADU
	saturation     float64     // ADU; NaN when not known
	saturationFrom string      // how it is known, in words

	transfer     []TransferPoint
	fit          stats.Line  // variance against signal
	curvature    stats.Value // %
	peakAt       float64     // ADU, signal at which the variance is highest
	fullWellSeen bool
	brightGain   bool // measured by flats brighter than where the sensor is surely linear
	series       []ExposureSeries
	law          TemperatureLaw
	thermometer  float64 // °C, its step

	oldRate, oldEnergy stats.Value // of an earlier night: e-/s at 0 °C, eV
	summary            *Set
}

// Analyse measures every calibration frame of a scan (subs are used for coverage
// only). Only ctx is an error; a frame that cannot be read is named in a
// warning of its set.
func Analyse(ctx context.Context, scan *frames.Sorted, opt Options) (*Result, error) {
	a := &analysis{opt: opt, stacker: stack.New(ctx, stack.Options{Workers: opt.Workers, Memory: opt.Memory, Read: opt.Read, Progress: opt.Progress}), masters: map[*frames.Group]*stack.Plane{}}
	a.addMasters(scan.Masters)
	for _, g := range a.adoptMasters(scan.Groups) {
		switch g.Kind {
		case frames.Bias:
			a.biases = append(a.biases, &biasRun{group: g})
		case frames.Dark:
			a.darks = append(a.darks, &darkRun{group: g})
		case frames.Flat:
			a.flats = append(a.flats, &flatRun{group: g})
		case frames.Light:
			a.lights = append(a.lights, g)
			continue
		default:
			continue
		}
		a.stacker.Expect(len(g.Frames))
	}
	for _, b := range a.biases {
		b.measure(a)
	}
	a.adoptQuiet()
	for _, d := range a.darks { // before the flats, which darks of their exposure may belong to
		d.stackDarks(a)
	}
	for _, f := range a.flats {
		f.measure(a)
	}
	a.settleModes()
	a.judgeLone()
	a.checkMasters()
	for _, d := range a.darks {
		d.measure(a)
	}
	for _, m := range a.modes {
		m.settleDarks(a)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return a.result(), nil
}

// result puts the sets in order and labels them.
func (a *analysis) result() *Result {
	r := &Result{analysis: a}
	for _, b := range a.biases {
		r.Sets = append(r.Sets, b.set(a))
	}
	for _, d := range a.darks {
		r.Sets = append(r.Sets, d.set(a))
	}
	a.seatDust()
	for _, f := range a.flats {
		r.Sets = append(r.Sets, f.set(a))
	}
	for _, m := range a.modes {
		if m.told(a) {
			r.Sets = append(r.Sets, m.set(a))
		}
	}
	taken := map[string]bool{}
	for _, s := range r.Sets {
		s.Label = uniqueLabel(taken, s.Label)
	}
	r.Coverage = a.coverage()
	a.stacker.Detach() // masters may be read after this
	return r
}

// modeOf finds the mode that a group was shot in.
func (a *analysis) modeOf(g *frames.Group) *mode {
	for _, m := range a.modes {
		if m.has(g) {
			return m
		}
	}
	m := &mode{Mode: ModeOf(g),
		gain: stats.Missing("no flats and no e-/ADU in the header"), measured: stats.Missing("no flats"),
		header: math.NaN(), readNoise: stats.Missing("no bias frames"), saturation: math.NaN()}
	a.modes = append(a.modes, m)
	return m
}

func (m *mode) has(g *frames.Group) bool { return m.Same(ModeOf(g)) }

// same compares settings, unknown being a value of its own.
func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// label makes a set's name unique.
func uniqueLabel(taken map[string]bool, label string) string {
	name := label
	for i := 2; taken[name]; i++ {
		name = fmt.Sprintf("%s (%d)", label, i)
	}
	taken[name] = true
	return name
}

// nearestBias is the bias set that fits a group best: same sensor settings, at
// its set point before one that was not, nearest in temperature; nil when there
// is none.
func (a *analysis) nearestBias(g *frames.Group) *biasRun {
	var fit []*biasRun
	for _, b := range a.biases {
		if b.ok() && sameReadout(b.group, g) {
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
func (a *analysis) biasFor(g *frames.Group) (*biasRun, string) {
	b := a.nearestBias(g)
	if b == nil || b.astray() == 0 || tempGap(b.group, g) <= a.opt.TempTolC {
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

// sameReadout tells whether two groups share camera, size, binning, gain and
// offset as far as their headers tell.
func sameReadout(a, b *frames.Group) bool {
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
