package calib

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/stack"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// master is a combined frame.
type master struct {
	pixels []float32 // ADU; flats: relative to their mean
	hits   int       // samples left out
	mended bool      // a bias that had been taken off was added again
}

// keepMaster keeps a group's master for whoever asks.
func (a *analysis) keepMaster(g *frames.Group, m *master) {
	a.masters[g] = a.opt.Room.Add(m.pixels)
}

// combine makes the master of a stacked series.
func (a *analysis) combine(r *stack.Series) *master {
	return &master{pixels: r.ADU(), hits: r.Hits}
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
			GainSetting: m.GainSetting, OffsetSetting: m.OffsetSetting, SetTemp: m.SetTemp, Exposure: m.Exposure, Frames: []*frames.Frame{f},
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
	if why == "" && g.Kind == frames.Dark {
		if why = a.asRate(m, g); why == "" {
			why = a.putBiasBack(m, g)
		}
	}
	if why != "" {
		if a.refused == nil {
			a.refused = map[*frames.Group]string{}
		}
		a.refused[g] = why
		return nil
	}
	return m
}

// openMaster reads a master. One whose samples run from 0 to 1, or are rates, is
// not in ADU and fits no raw sub; a flat is divided by its mean anyway.
func (a *analysis) openMaster(g *frames.Group) (m *master, why string) {
	pixels, err := a.openRaw(g)
	switch {
	case errors.Is(err, errOtherShape):
		return nil, err.Error()
	case err != nil:
		return nil, "it cannot be read: " + err.Error()
	}
	m = &master{pixels: pixels}
	if g.Kind == frames.Flat {
		normalise(m.pixels, g.Width, len(planeNames(g.Frames[0].Meta)) > 0)
		return m, ""
	}
	if top := stats.Quantile(m.pixels, 0.99); top <= 1 {
		return nil, fmt.Sprintf("its samples end at %.2g: scaled to 1 or divided by the exposure, not in ADU", top)
	}
	return m, ""
}

// mostCombined is of how many frames a master is made at most: noise below what
// these would leave is that of samples in another unit.
const mostCombined = 1000

// asRate tells that a master is in ADU a second: it has less noise than a
// thousand frames combined could, and so it lies far below any offset too.
func (a *analysis) asRate(m *master, g *frames.Group) (why string) {
	read := a.readNoiseFor(g)
	if mode := a.modeOf(g); !read.OK() && measured(mode.readNoise) {
		read = mode.readNoise
	}
	if noise := spatialNoise(m.pixels, g.Width); read.OK() && g.Exposure > 1 && noise < read.V/math.Sqrt(mostCombined) {
		return fmt.Sprintf("its pixels differ by %.2g ADU where one frame has a read noise of %.2g ADU: divided by the exposure, not in ADU", noise, read.V)
	}
	return ""
}

// readNoiseFor is the noise of one raw bias frame of a group's read-out, ADU.
func (a *analysis) readNoiseFor(g *frames.Group) stats.Value {
	if b := a.nearestBias(g); b != nil {
		return b.noiseOfOne()
	}
	return stats.Missing("no bias frames")
}

// spatialNoise is by what a pixel is off the mean of its neighbours of one colour in
// its row, over sqrt(3/2): noise and pattern, without slopes and without hot pixels.
func spatialNoise(pixels []float32, width int) float64 {
	const most = 200_000
	step := max(1, len(pixels)/most)
	var d []float64
	for i := 0; i+4 < len(pixels); i += step {
		if i%width < width-4 {
			d = append(d, float64(pixels[i+2]-(pixels[i]+pixels[i+4])/2))
		}
	}
	return stats.SigmaClip(d, 4, 20).SD / math.Sqrt(1.5)
}

// adoptQuiet takes single darks of whole numbers for masters that no header calls
// so: neighbouring pixels differ by less than the read noise of one frame lets
// them, which noise, pattern and dark current only add to.
func (a *analysis) adoptQuiet() {
	a.darks = slices.DeleteFunc(a.darks, func(d *darkRun) bool {
		read := a.readNoiseFor(d.group)
		if len(d.group.Frames) != 1 || !read.OK() || read.V < 1 {
			return false // noise of less than a step is no measure
		}
		pixels, err := a.openRaw(d.group)
		if noise := spatialNoise(pixels, d.group.Width); err != nil || len(pixels) == 0 || cutAtZero(pixels) || noise*noise > stack.CalmShare*read.V*read.V {
			return false
		}
		a.ready[frames.Dark] = append(a.ready[frames.Dark], d.group)
		a.adopted = append(a.adopted, d.group)
		a.stacker.Expect(-1)
		return true
	})
}

// putBiasBack adds the master bias to a master dark from which one was taken
// off: it lies far below the bias, or about zero with samples below. Without a
// bias it says why the dark cannot be used: it would leave the offset in the subs.
func (a *analysis) putBiasBack(m *master, dark *frames.Group) (why string) {
	level, lowest := stats.Median(m.pixels), stats.Quantile(m.pixels, 0.01)
	var bias []float32
	if b := a.nearestBias(dark); b != nil {
		bias = a.masterOf(b.group)
	}
	for _, g := range a.ready[frames.Bias] {
		if bias == nil && sameReadout(g, dark) {
			bias = a.masterOf(g)
		}
	}
	switch {
	case bias == nil && lowest < 0:
		return fmt.Sprintf("its level is %.3g ADU with samples below 0: a bias was taken off, and there is none here to add again", level)
	case bias == nil:
		return a.underSubs(level, dark)
	case lowest >= 0 && level > bornAbove*stats.Median(bias):
		return ""
	}
	for i, b := range bias {
		m.pixels[i] += b
	}
	m.mended = true
	return ""
}

// bornAbove is the share of the bias's level above which a master dark still
// holds its offset: the offsets of two sessions differ by far less than half.
const bornAbove = 0.5

// adoptMasters takes single frames for masters that no header calls so: of samples
// that are not whole numbers.
func (a *analysis) adoptMasters(groups []*frames.Group) []*frames.Group {
	return slices.DeleteFunc(slices.Clone(groups), func(g *frames.Group) bool {
		if len(g.Frames) != 1 || g.Frames[0].Image.Bitpix > 0 {
			return false
		}
		switch g.Kind {
		case frames.Bias, frames.Dark, frames.Flat:
		default:
			return false
		}
		m, _ := a.openRaw(g)
		whole := true
		for _, v := range m {
			whole = whole && (v != v || v == float32(math.Trunc(float64(v))))
		}
		if len(m) == 0 || whole {
			return false
		}
		a.ready[g.Kind] = append(a.ready[g.Kind], g)
		a.adopted = append(a.adopted, g)
		return true
	})
}

var errOtherShape = errors.New("it is not one plane of the size that its header tells")

// openRaw is the pixels of a group's first frame as they are.
func (a *analysis) openRaw(g *frames.Group) ([]float32, error) {
	var im frames.Image
	if err := a.stacker.Read(g.Frames[0], &im); err != nil {
		return nil, err
	}
	if im.Planes != 1 || im.Width != g.Width || im.Height != g.Height {
		return nil, errOtherShape
	}
	return im.Float32(0, nil), nil
}

// isMaster tells whether a group is a master that some program made.
func (a *analysis) isMaster(g *frames.Group) bool {
	return g.Frames[0].Master || slices.Contains(a.adopted, g)
}

// checkMasters reads the masters once, so that those that cannot be used are
// refused before subs ask for them.
func (a *analysis) checkMasters() {
	for _, kind := range []frames.Kind{frames.Bias, frames.Dark, frames.Flat} {
		for _, g := range a.ready[kind] {
			a.planeOf(g)
		}
	}
}
