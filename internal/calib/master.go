package calib

import (
	"math"

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
	if g.Frames[0].Master {
		return a.readMaster(g)
	}
	for _, f := range a.flats {
		if f.group == g {
			again := &flatRun{group: g, copies: f.copies}
			m, err := again.stackFlats(a, false)
			if err != nil {
				return nil
			}
			return m
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

// readMaster reads a master that some program made. One whose samples run from
// 0 to 1 is not in ADU and fits no raw sub; a flat is divided by its mean anyway.
func (a *analysis) readMaster(g *frames.Group) *master {
	read := a.opt.Read
	if read == nil {
		read = (*frames.Frame).Read
	}
	var im frames.Image
	if err := read(g.Frames[0], &im); err != nil || im.Planes != 1 || im.Width != g.Width || im.Height != g.Height {
		return nil
	}
	m := &master{pixels: im.Float32(0, nil)}
	if g.Kind == frames.Flat {
		normalise(m.pixels, g.Width, len(planeNames(g.Frames[0].Meta)) > 0)
		return m
	}
	if stats.Quantile(m.pixels, 0.99) <= 1 {
		return nil
	}
	return m
}
