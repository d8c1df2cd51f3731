package calib

import (
	"math"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// Darks of the flats' exposure stand in for bias frames that nobody shot: read noise, gain
// and dark current come out, the dark current that is in them allowed for.
func TestShortDarksStandInForBias(t *testing.T) {
	t.Parallel()
	for _, dark := range []float64{0.005, 0.8, 12} { // 12: the noise of 24 e- beside the read noise, of pixels that differ by a third
		c := quiet()
		c.dark = dark
		if dark > 1 {
			c.warm, c.hotShare, c.hotMin = dark/3, 0.002, 2*dark
		}
		c.init(27)
		c.frames(12, frames.Dark, 2, 0, 0)
		c.frames(8, frames.Dark, 120, 0, 0)
		c.frames(4, frames.Flat, 2, 0, 12000)
		r := c.analyse(t)
		if n := len(r.kind("bias")); n != 1 {
			t.Fatalf("%d sets of bias frames", n)
		}
		if w := r.kind("bias")[0].Group.Frames[0].Findings; !fact.Has(w, frames.DarkAsBias) {
			t.Errorf("warnings %v", w)
		}
		camera := r.kind("camera")[0]
		gain, noise := camera.Figure("gain_e_per_adu").Value, camera.Figure("read_noise_e").Value
		t.Logf("gain %v, read noise %v, dark current %v", gain, noise, r.setAt(t, 120, 0).Figure("dark_current_e_per_s").Value)
		// 3 %: the gain of two pairs of flats; that noise is left is known to its error.
		if !(math.Abs(gain.V-c.gain) <= 0.03*c.gain) || !(math.Abs(noise.V-c.read) <= max(0.035*c.read, 2*noise.Err)) || noise.Err > 0.15*c.read {
			t.Errorf("gain %v, read noise %v; truth %v, %v", gain, noise, c.gain, c.read)
		}
		if v := r.setAt(t, 120, 0).Figure("dark_current_e_per_s").Value; dark > 0.1 && math.Abs(v.V-dark) > 3*v.Err+0.03*dark {
			t.Errorf("dark current %v, truth %v", v, dark)
		}
	}
}

// Bias frames of a warm sensor that were exposed for a second: the dark current in them is
// taken off read noise and dark current, and they are named.
func TestBiasOfASecond(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 6
	c.init(29)
	c.frames(10, frames.Bias, 1, 0, 0)
	c.frames(6, frames.Dark, 60, 0, 0)
	c.frames(4, frames.Flat, 2, 0, 12000)
	r := c.analyse(t)
	bias := r.kind("bias")[0]
	within(t, bias, "read_noise_e", c.read, 0.03*c.read) // 6 e- more variance, known to the gain's percent
	within(t, r.kind("dark")[0], "dark_current_e_per_s", c.dark, 0.03*c.dark)
	if !fact.Has(bias.Warnings, sensor.BiasExposed) {
		t.Errorf("warnings %v", bias.Warnings)
	}
}

// With bias frames, or for subs as short, short darks stay what they are.
func TestShortDarksThatAreNeeded(t *testing.T) {
	t.Parallel()
	for name, more := range map[string]func(c *simCamera){
		"bias frames": func(c *simCamera) { c.frames(3, frames.Bias, 0, 0, 0) },
		"short subs":  func(c *simCamera) { c.frames(2, frames.Light, 5, 0, 300) },
	} {
		c := quiet()
		c.init(28)
		c.frames(4, frames.Dark, 2, 0, 0)
		c.frames(4, frames.Dark, 120, 0, 0)
		more(&c)
		if r := c.analyse(t); len(r.kind("dark")) != 2 {
			t.Errorf("%s: %d sets of darks", name, len(r.kind("dark")))
		}
	}
}
