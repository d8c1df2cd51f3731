package calib

import (
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// adoptQuiet takes single darks of whole numbers for masters that no header calls
// so: neighbouring pixels differ by less than the read noise of one frame lets
// them, which noise, pattern and dark current only add to.
func (a *analysis) adoptQuiet(darks []*frames.Group) []*frames.Group {
	return slices.DeleteFunc(darks, func(g *frames.Group) bool {
		read := a.cameras.ReadNoiseFor(g)
		if len(g.Frames) != 1 || !read.OK() || read.V < 1 {
			return false // noise of less than a step is no measure
		}
		pixels, err := a.openRaw(g)
		if noise := sensor.SpatialNoise(pixels, g.Width); err != nil || len(pixels) == 0 || sensor.CutAtZero(pixels) || noise*noise > stack.CalmShare*read.V*read.V {
			return false
		}
		a.ready[frames.Dark] = append(a.ready[frames.Dark], g)
		a.adopted = append(a.adopted, g)
		a.stacker.Expect(-1)
		return true
	})
}

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

// lendMasters lends masters of bias frames to darks and flats without any of their own, and
// to flats those of darks: of their exposure, or in place of a bias where there is none. The
// darks are told, which are read before the flats give a gain to judge them by.
func (a *analysis) lendMasters(flats []*frames.Group) (early []*frames.Group) {
	bias := a.lent(a.ready[frames.Bias])
	a.cameras.Lend(bias, nil)
	for _, g := range a.ready[frames.Dark] {
		if slices.ContainsFunc(flats, func(f *frames.Group) bool {
			return sensor.SameReadout(f, g) && (f.Exposure == g.Exposure || a.cameras.BiasNear(f) == nil)
		}) {
			early = append(early, g)
		}
	}
	a.cameras.Lend(nil, a.lent(early))
	return early
}

func (a *analysis) lent(gs []*frames.Group) (all []sensor.Lent) {
	for _, g := range gs {
		if p := a.planeOf(g); p != nil {
			all = append(all, sensor.Lent{Group: g, Plane: p, Frames: g.Frames[0].Meta.Combined})
		}
	}
	return all
}

// forget lets masters be read and judged again.
func (a *analysis) forget(gs []*frames.Group) {
	for _, g := range gs {
		delete(a.masters, g)
		delete(a.refused, g)
		a.mended = slices.DeleteFunc(a.mended, func(m *frames.Group) bool { return m == g })
	}
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
