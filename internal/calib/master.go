package calib

import (
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// masterBytes is how much room masters may take together; one that has had to
// go is built again from its files when it is wanted.
const masterBytes = 320 << 20

// master is a combined frame.
type master struct {
	pixels []float32 // ADU; flats: relative to their mean
	hits   int       // samples left out
	mended bool      // a bias that had been taken off was added again
}

// masterCache keeps the masters that were used last.
type masterCache struct {
	limit int
	order []*frames.Group // oldest first
	held  map[*frames.Group]*master
}

func (c *masterCache) get(g *frames.Group) *master {
	m := c.held[g]
	if m != nil {
		c.touch(g)
	}
	return m
}

func (c *masterCache) touch(g *frames.Group) {
	for i, o := range c.order {
		if o == g {
			c.order = append(append(c.order[:i:i], c.order[i+1:]...), g)
			return
		}
	}
	c.order = append(c.order, g)
}

func (c *masterCache) put(g *frames.Group, m *master) {
	if c.held == nil {
		c.held = map[*frames.Group]*master{}
	}
	c.held[g] = m
	c.touch(g)
	used := 0
	for _, m := range c.held {
		used += 4 * len(m.pixels)
	}
	for len(c.order) > 1 && used > c.limit {
		used -= 4 * len(c.held[c.order[0]].pixels)
		delete(c.held, c.order[0])
		c.order = c.order[1:]
	}
}

// combine makes the master of a stacked series.
func (a *analysis) combine(r *run) *master {
	m := &master{pixels: r.pixels, hits: r.hits}
	if r.unit != (scale{0, 1}) {
		for i, v := range m.pixels {
			m.pixels[i] = float32(r.unit.Zero + r.unit.Step*float64(v))
		}
	}
	return m
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

// masterOf is a group's master, built again when it has been dropped; nil when
// its files can no longer be read or hold no master in ADU.
func (a *analysis) masterOf(g *frames.Group) *master {
	if m := a.masters.get(g); m != nil {
		return m
	}
	m := a.build(g)
	if m != nil {
		a.masters.put(g, m)
	}
	return m
}

func (a *analysis) build(g *frames.Group) *master {
	if a.isMaster(g) {
		return a.readMaster(g)
	}
	for _, f := range a.flats {
		if f.group == g {
			return f.again(a)
		}
	}
	kept := g.Frames
	for _, b := range a.biases {
		if b.group == g && b.run.ok() {
			kept = b.frames
		}
	}
	for _, d := range a.darks {
		if d.group == g && d.run.ok() {
			kept = d.frames
		}
	}
	r, err := a.stackOnce(kept)
	if err != nil || len(r.frames) == 0 {
		return nil
	}
	return a.combine(r)
}

// readMaster reads a master that some program made; nil when it cannot be used,
// which refused says.
func (a *analysis) readMaster(g *frames.Group) *master {
	m, why := a.openMaster(g)
	if why == "" && g.Kind == frames.Dark {
		why = a.putBiasBack(m, g)
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
	read := a.opt.Read
	if read == nil {
		read = (*frames.Frame).Read
	}
	var im frames.Image
	if err := read(g.Frames[0], &im); err != nil {
		return nil, "it cannot be read: " + err.Error()
	}
	if im.Planes != 1 || im.Width != g.Width || im.Height != g.Height {
		return nil, "it is not one plane of the size that its header tells"
	}
	m = &master{pixels: im.Float32(0, nil)}
	if g.Kind == frames.Flat {
		normalise(m.pixels, g.Width, len(planeNames(g.Frames[0].Meta)) > 0)
		return m, ""
	}
	if top := stats.Quantile(m.pixels, 0.99); top <= 1 {
		return nil, fmt.Sprintf("its samples end at %.2g: scaled to 1 or divided by the exposure, not in ADU", top)
	}
	return m, ""
}

// putBiasBack adds the master bias to a master dark from which one was taken
// off: it lies far below the bias, or about zero with samples below. Without a
// bias it says why the dark cannot be used: it would leave the offset in the subs.
func (a *analysis) putBiasBack(m *master, dark *frames.Group) (why string) {
	level, lowest := stats.Median(m.pixels), stats.Quantile(m.pixels, 0.01)
	var bias []float32
	if b := a.nearestBias(dark); b != nil {
		if b := a.masterOf(b.group); b != nil {
			bias = b.pixels
		}
	}
	for _, g := range a.ready[frames.Bias] {
		if bias == nil && sameReadout(g, dark) {
			if b := a.masterOf(g); b != nil {
				bias = b.pixels
			}
		}
	}
	switch {
	case bias == nil && lowest < 0:
		return fmt.Sprintf("its level is %.3g ADU with samples below 0: a bias was taken off, and there is none here to add again", level)
	case bias == nil || lowest >= 0 && level > bornAbove*stats.Median(bias):
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

// openRaw is a frame's pixels as they are; nil when it cannot be read.
func (a *analysis) openRaw(g *frames.Group) ([]float32, error) {
	read := a.opt.Read
	if read == nil {
		read = (*frames.Frame).Read
	}
	var im frames.Image
	if err := read(g.Frames[0], &im); err != nil || im.Planes != 1 {
		return nil, err
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
			if m := a.masterOf(g); m != nil && m.mended {
				a.mended = append(a.mended, g)
			}
		}
	}
}
