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
	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
)

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
	for _, d := range cs.darks { // the bias of earlier ones may have been set aside
		if d.bias != nil && !d.bias.ok() {
			d.bias, d.biasWhy = cs.biasFor(d.group)
		}
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
