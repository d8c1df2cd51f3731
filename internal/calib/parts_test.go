package calib_test

import (
	"math"
	"testing"
)

// Samples written as parts of 1 or of a half are the same camera's: its gain is so many
// times larger, its response and its fall-off are the same.
func TestFlatsOfParts(t *testing.T) {
	t.Parallel()
	for _, parts := range []float64{65535, 65536 / 2, 256} {
		c := plainCamera()
		c.W, c.H, c.Parts = 200, 160, parts
		b := newBench(t, c, 811)
		b.bias(6)
		b.flats(6, 25000)
		flat := set(t, b.analyse(), "flat")
		agrees(t, flat, "gain_e_per_adu", c.Gain*parts, 0.02)
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.05)
		agrees(t, flat, "corner_falloff_pct", corner(c), 0.02)
	}
}

// Without bias and darks the offset is in the flats' level, and every share of their light
// comes out too low by its share of it: 3 % or 20 % here. None is given.
func TestFlatsWithTheirOffset(t *testing.T) {
	t.Parallel()
	for _, offset := range []float64{1000, 8000} {
		c := plainCamera()
		c.W, c.H, c.Offset = 200, 160, offset
		b := newBench(t, c, 812)
		b.flats(6, 25000)
		flat := set(t, b.analyse(), "flat")
		withheld(t, flat, "prnu_pct", "offset")
		withheld(t, flat, "corner_falloff_pct", "offset")
	}
}

// The light of a flat that is cut off by saturation, or that a closed shutter kept dark, is
// not known: it makes no steady lamp flicker.
func TestFlickerLeavesCappedFlatsOut(t *testing.T) {
	t.Parallel()
	for _, light := range []float64{0, 200000} {
		c := plainCamera()
		c.W, c.H = 200, 160
		b := newBench(t, c, 815)
		b.bias(4)
		b.flats(4, 25000)
		b.flats(1, light)
		b.flats(5, 25000)
		// 0.3 % from 7 - 3 triples and their overlap: to a third.
		agrees(t, set(t, b.analyse(), "flat"), "flicker_pct", 0.3, 0.7)
	}
}

// Where the middle of a vignetted flat is saturated the pixels of its edges tell the
// response; how far the light falls from the middle cannot be told.
func TestFlatsCappedInTheMiddle(t *testing.T) {
	t.Parallel()
	for _, light := range []float64{53000, 57000} { // the top is at 51600 e- above the offset
		c := plainCamera()
		c.W, c.H, c.Vignette = 240, 200, 0.5
		b := newBench(t, c, 816)
		b.bias(6)
		b.flats(6, light)
		flat := set(t, b.analyse(), "flat")
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.05)
		agrees(t, flat, "gain_e_per_adu", c.Gain, 0.02)
		withheld(t, flat, "corner_falloff_pct", "saturated")
	}
}

// Without bias frames the darks tell the offset, and what dark current is in them leaves
// the gain as it is: a cold sensor, and a warm one with 480 e- in its darks and hot pixels,
// which are no dead pixels of the flats.
func TestFlatsBesideDarksAlone(t *testing.T) {
	t.Parallel()
	for _, dark := range []float64{0.01, 4} {
		c := plainCamera()
		c.W, c.H, c.Dark, c.Warm, c.Hot = 240, 200, dark, dark/20, 0.001
		b := newBench(t, c, 817)
		b.darks(8, 120, 0)
		b.flats(8, 25000)
		flat := set(t, b.analyse(), "flat")
		agrees(t, flat, "gain_e_per_adu", c.Gain, 0.015)
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.05)
		if v := flat.Figure("corner_falloff_pct").Value; !(math.Abs(v.V-corner(c)) <= 3*v.Err) || v.Err > 0.03*v.V {
			t.Errorf("%g e-/s: corners lose %v, truth %.3f", dark, v, corner(c))
		}
		if n := len(flat.Flat.Dead); n > 0 {
			t.Errorf("%g e-/s: %d dead pixels", dark, n)
		}
	}
}
