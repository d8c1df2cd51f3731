package sensor

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// settleSaturation looks for the level where samples pile up, in flats, else in
// the cores of the subs' stars and the hot pixels of darks. Where none does, the
// step between samples may tell that they are scaled to 16 bits. Nothing is
// assumed otherwise.
func (m *mode) settleSaturation(cs *Cameras) {
	step := 0.0
	for _, f := range cs.flats {
		if !m.has(f.group) || f.raw == nil {
			continue
		}
		if p := f.rawUnit.Zero + f.rawUnit.Step*pileUp(f.raw, ofFlats); !(m.saturation > p) && !math.IsNaN(p) {
			m.saturation, m.saturationFrom = p, []fact.Fact{fact.Of(SaturationFlats)}
		}
		if f.Series != nil && f.Step > 0 {
			step = f.Step
		}
	}
	for _, b := range cs.biases {
		if m.has(b.group) && b.ok() && b.Step > 0 {
			step = b.Step
		}
	}
	if !math.IsNaN(m.saturation) {
		return
	}
	bright := m.brightGroups(cs)
	topOf := remembered(cs.topOf)
	if note := stepNote(step); step > 1 && note != nil {
		if top := math.MaxUint16 + 1 - step; !m.beyond(cs, bright, topOf, top) {
			m.saturation, m.saturationFrom = top, []fact.Fact{fact.Of(SaturationStep, note[0].Values...)}
			return
		}
	}
	for _, g := range bright {
		if p, _ := topOf(g); !math.IsNaN(p) {
			m.saturation, m.saturationFrom = p, []fact.Fact{fact.Of(SaturationPile, fact.Text("set", g.Label()))}
			return
		}
	}
	if top := m.claimedTop(cs, max(step, 1)); !math.IsNaN(top) && !m.beyond(cs, bright, topOf, top) {
		m.saturation, m.saturationFrom = top, []fact.Fact{fact.Of(SaturationClaim)}
	}
}

// claimedTop is the highest sample by the bits that headers claim for the
// converter, in steps; NaN where they are silent.
func (m *mode) claimedTop(cs *Cameras, step float64) float64 {
	bits := math.NaN()
	for _, kind := range []frames.Kind{frames.Bias, frames.Flat, frames.Dark} {
		for _, g := range cs.Groups(kind) {
			if b := g.Frames[0].Meta.SampleBits; m.has(g) && b >= 8 && b <= 16 {
				bits = b
			}
		}
	}
	return math.Exp2(bits)*step - step
}

// brightGroups are the groups in which single pixels may saturate: subs first,
// longest exposures first.
func (m *mode) brightGroups(cs *Cameras) []*frames.Group {
	var groups []*frames.Group
	for _, list := range [][]*frames.Group{cs.lights, cs.Groups(frames.Dark)} {
		from := len(groups)
		for _, g := range list {
			if m.has(g) && g.Kind != frames.Flat {
				groups = append(groups, g)
			}
		}
		slices.SortStableFunc(groups[from:], func(x, y *frames.Group) int { return cmp.Compare(y.Exposure, x.Exposure) })
	}
	return groups
}

// beyond tells that flats, or frames whose file could hold more than 16 bits, have
// samples above a level: no end of 16 bits cuts them.
func (m *mode) beyond(cs *Cameras, bright []*frames.Group, topOf func(*frames.Group) (pile, top float64), level float64) bool {
	for _, f := range cs.flats {
		if m.has(f.group) && f.raw != nil && f.rawUnit.Zero+f.rawUnit.Step*highest(f.raw) > level {
			return true
		}
	}
	for _, g := range bright {
		if b := g.Frames[0].Image.Bitpix; b == 8 || b == 16 {
			continue
		}
		if _, top := topOf(g); top > level {
			return true
		}
	}
	return false
}

// remembered is a look at groups that looks at each once.
func remembered(topOf func(*frames.Group) (pile, top float64)) func(*frames.Group) (pile, top float64) {
	type found struct{ pile, top float64 }
	all := map[*frames.Group]found{}
	return func(g *frames.Group) (pile, top float64) {
		f, ok := all[g]
		if !ok {
			f.pile, f.top = topOf(g)
			all[g] = f
		}
		return f.pile, f.top
	}
}

// topFrames is how many frames of a group are looked through for saturation.
const topFrames = 3

// topOf is the level at which samples of a group's frames pile up, NaN where none
// does, and the highest of them. Where those of one pile up at the end of 16 bits the
// others can show no higher level.
func (cs *Cameras) topOf(g *frames.Group) (pile, top float64) {
	n := min(topFrames, len(g.Frames))
	each := make([]samples, n)
	look := func(i int) {
		_ = frames.Again(func() (err error) { // a frame that cannot be read tells nothing
			each[i], err = cs.samplesOf(g.Frames[i*len(g.Frames)/n])
			return err
		})
	}
	look(0)
	if s := each[0]; s.ended || s.counts != nil && s.scale == stack.Whole && pileUp(s.counts, ofStars) == math.MaxUint16 {
		return math.MaxUint16, math.MaxUint16
	}
	parallel.Items(n-1, cs.opt.Workers, func(i int) { look(i + 1) })
	return topOfAll(each)
}

// topOfAll is topOf of looked-through frames. Whole numbers are counted together;
// others each by itself, and what one of them exceeds by more than saturation is smeared
// is no level where samples end.
func topOfAll(each []samples) (pile, top float64) {
	pile, top = math.NaN(), math.Inf(-1)
	whole := stats.NewHistogram(0, math.MaxUint16)
	for _, s := range each {
		switch {
		case s.ended:
			return math.MaxUint16, math.MaxUint16
		case s.counts == nil:
			continue
		case s.scale == stack.Whole:
			whole.Merge(s.counts)
			continue
		}
		top = max(top, s.at(highest(s.counts)))
		if p := s.at(pileUp(s.counts, ofStars)); !(pile > p) {
			pile = p
		}
	}
	if pile < top*(1-1./smear) {
		pile = math.NaN()
	}
	if whole.N() > 0 {
		top = max(top, highest(whole))
		if p := pileUp(whole, ofStars); !(pile > p) {
			pile = p
		}
	}
	return pile, top
}

func (m *mode) fullWellSeen() bool { return !math.IsInf(m.fallenAt, 1) }

// linearTop is the signal up to which the sensor is taken for linear: a share of
// saturation, else of where the variance peaks.
func (m *mode) linearTop() float64 {
	switch {
	case !math.IsNaN(m.saturation):
		return fitUpTo * m.saturation
	case m.fullWellSeen():
		return fitUpTo * m.peakAt
	}
	return math.Inf(1)
}
