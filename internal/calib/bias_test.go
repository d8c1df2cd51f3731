package calib

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
)

// quiet is a small camera of whole electrons that tests spoil one way at a time.
func quiet() simCamera {
	return simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 1000, read: 3}
}

func note(s *sensor.Set, metric string) []fact.Fact {
	for _, m := range s.Metrics() {
		if m.Name == metric {
			return m.Note
		}
	}
	return nil
}

func TestBiasOutlierIsNamedAndLeftOut(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(1)
	c.offset += 6 // the first frame sits high, as after a long pause
	c.frames(1, frames.Bias, 0, 0, 0)
	c.offset -= 6
	c.frames(9, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("bias")[0]
	within(t, s, "outlier_frames", 1, 0)
	within(t, s, "offset_adu", 1000, 0.05)
	off := note(s, "outlier_frames")
	if len(off) != 1 || off[0].Values[0].Text != "bias_001.fits" || !(math.Abs(off[0].Values[1].Number-6) <= 0.05) || !strings.Contains(fmt.Sprint(s.Warnings), "levels_off(files=bias_001.fits") {
		t.Errorf("note %v, warnings %v", off, s.Warnings)
	}
	if f := s.Bias.Frames; len(f) != 10 || !f[0].Outlier || f[1].Outlier {
		t.Errorf("levels %+v", f)
	}
}

// A sensor of equal pixels shows its read noise in all three figures of single
// pixels; one with telegraph noise shows it in the tail.
func TestBiasPixelNoise(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(2)
	c.frames(16, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("bias")[0]
	// 49152 pixels of 16 frames give the median to 0.1 %, the 99th percentile to 0.4 %;
	// the grid of whole numbers shifts it by as much again.
	within(t, s, "pixel_noise_median_adu", 6, 0.02)
	within(t, s, "pixel_noise_rms_adu", 6, 0.02)
	within(t, s, "pixel_noise_p99_adu", 6, 0.08)
	within(t, s, "noisy_pixel_fraction", 0, 1.0/49152)

	c = quiet()
	c.telegraph = 0.01
	c.init(3)
	c.frames(16, frames.Bias, 0, 0, 0)
	s = c.analyse(t).kind("bias")[0]
	// sqrt(p(1-p)/n) of a share of 0.01 is 0.00045.
	within(t, s, "noisy_pixel_fraction", 0.01, 0.0015)
	within(t, s, "pixel_noise_median_adu", 6, 0.03)
	// Half of 8 sigma up and down: variance 16+1 of 36; 1 % of the pixels have it.
	within(t, s, "pixel_noise_rms_adu", 6*math.Sqrt(1+0.01*16), 0.05)
}

// Variances of few samples on coarse steps lie on a lattice: the figures of
// equal pixels agree with the noise within their errors all the same.
func TestBiasPixelNoiseOnSteps(t *testing.T) {
	t.Parallel()
	for _, step := range []float64{2, 4, 8} {
		c := quiet()
		c.step, c.offset = step, 800
		c.init(4)
		c.frames(8, frames.Bias, 0, 0, 0)
		s := c.analyse(t).kind("bias")[0]
		for _, name := range []string{"pixel_noise_median_adu", "pixel_noise_rms_adu", "pixel_noise_p99_adu"} {
			v := s.Figure(name).Value
			if z := (v.V - 6) / v.Err; !(math.Abs(z) < 3) || v.Err > 0.025*6 { // 8 frames on steps of 1.3 sigma can have values 2 % apart
				t.Errorf("step %g: %s %.4f ± %.4f, want 6", step, name, v.V, v.Err)
			}
		}
	}
}

func TestBiasFixedPattern(t *testing.T) {
	t.Parallel()
	for _, n := range []int{4, 25} {
		c := quiet()
		c.pattern = 2.5
		c.init(4)
		c.frames(n, frames.Bias, 0, 0, 0)
		s := c.analyse(t).kind("bias")[0]
		// Sampling of 49152 pixels: sd to 0.3 %, with 3 ADU of noise left for n = 4.
		within(t, s, "fixed_pattern_adu", 2.5, 0.04)
		within(t, s, "read_noise_adu", 6, 0.06)
	}
}

// Rows that jump from frame to frame and columns that stay are told apart, each
// as a ratio to what white noise gives.
func TestBiasBanding(t *testing.T) {
	t.Parallel()
	const rowJump, colStay = 1.0, 0.8 // ADU
	c := quiet()
	c.init(5)
	col := make([]float64, c.w)
	for x := range col {
		col[x] = colStay * c.rng.NormFloat64()
	}
	for i := range c.fixed {
		c.fixed[i] += col[i%c.w]
	}
	for range 8 {
		f := c.frame(frames.Bias, 0, 0, 0)
		p := c.store[f]
		for y := range c.h {
			// Rounding to whole ADU would hide a part of it: jumps of 1 ADU up or down.
			jump := 1
			if c.rng.IntN(2) == 0 {
				jump = -1
			}
			for x := range c.w {
				p[y*c.w+x] = uint16(int(p[y*c.w+x]) + jump)
			}
		}
	}
	s := c.analyse(t).kind("bias")[0]
	noise := s.Figure("read_noise_adu").Value.V
	rows := math.Sqrt(1+rowJump*rowJump*float64(c.w)/36) * 6 / noise
	cols := math.Sqrt(1+colStay*colStay*float64(c.h)/36) * 6 / noise
	// A robust spread of 192 rows or 256 columns: 8 %; of two-valued jumps a
	// median deviation reads high, so the rows get more.
	within(t, s, "row_banding", rows, 0.35*rows)
	within(t, s, "column_banding", cols, 0.15*cols)
	if !fact.Has(note(s, "row_banding"), sensor.BandingParts) {
		t.Errorf("note %v", note(s, "row_banding"))
	}

	c = quiet()
	c.init(6)
	c.frames(8, frames.Bias, 0, 0, 0)
	s = c.analyse(t).kind("bias")[0]
	within(t, s, "row_banding", 1, 0.3)
	within(t, s, "column_banding", 1, 0.3)
}

func TestBiasOffsetTooLow(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.offset = 10 // 1.7 sigma above zero
	c.init(7)
	c.frames(6, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("bias")[0]
	// Rounded to zero or below: Phi((0.5-10)/6) = 0.0567.
	within(t, s, "clipped_fraction", 0.0567, 0.003)
	if w := fmt.Sprint(s.Warnings); !strings.Contains(w, "offset_low(") || !strings.Contains(w, "enough_adu=3") {
		t.Errorf("warnings %s", w)
	}
}

func TestBiasDrift(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(8)
	for i := range 12 {
		c.offset = 1000 + 0.25*float64(i)
		f := c.frame(frames.Bias, 0, 0, 0)
		f.Meta.SensorTemp = 0.2 * float64(i)
		f.Meta.SetTemp = 0
	}
	s := c.analyse(t).kind("bias")[0]
	within(t, s, "drift_adu_per_frame", 0.25, 0.01) // levels are known to 0.027 ADU each
	within(t, s, "outlier_frames", 0, 0)
	if v := s.Bias.TempSlope; !v.OK() || !(math.Abs(v.V-1.25) <= 0.05) {
		t.Errorf("temperature slope %+v, want 1.25 ADU/°C", v)
	}
	if !strings.Contains(fmt.Sprint(s.Warnings), "level_drifts(adu_per_frame=0.2") {
		t.Errorf("warnings %v", s.Warnings)
	}
}

// Noise under half a step is no figure to correct: it is called a limit.
func TestBiasNoiseUnderHalfAStep(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.gain, c.step, c.read, c.offset = 0.25, 16, 1, 808 // 4 ADU of noise on steps of 16
	c.init(9)
	c.frames(6, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("bias")[0]
	if !fact.Has(note(s, "read_noise_adu"), sensor.StepsHide) {
		t.Errorf("note %v", note(s, "read_noise_adu"))
	}
	within(t, s, "sample_step_adu", 16, 0)
}

// What cannot be measured has a reason, not a number.
func TestBiasReasons(t *testing.T) {
	t.Parallel()
	constant := func(c *simCamera, f *frames.Frame) {
		for i := range c.store[f] {
			c.store[f][i] = 1000
		}
	}
	for _, test := range []struct {
		name  string
		make  func(c *simCamera)
		has   string               // metrics that are measured
		lacks map[string]fact.Code // by metric
	}{
		{"one frame", func(c *simCamera) { c.frames(1, frames.Bias, 0, 0, 0) }, "offset_adu clipped_fraction sample_step_adu",
			map[string]fact.Code{"read_noise_adu": stack.OneFrame, "read_noise_e": stack.OneFrame, "pixel_noise_median_adu": sensor.PixelsNeed, "noisy_pixel_fraction": sensor.PixelsNeed,
				"fixed_pattern_adu": stack.OneFrame, "row_banding": stack.OneFrame, "drift_adu_per_frame": sensor.DriftNeeds, "outlier_frames": sensor.OutliersNeed, "master_noise_adu": stack.OneFrame}},
		{"two frames", func(c *simCamera) { c.frames(2, frames.Bias, 0, 0, 0) }, "offset_adu read_noise_adu row_banding master_noise_adu",
			map[string]fact.Code{"pixel_noise_rms_adu": sensor.PixelsNeed, "drift_adu_per_frame": sensor.DriftNeeds, "outlier_frames": sensor.OutliersNeed, "read_noise_e": sensor.GainNotGiven}},
		{"constant frames", func(c *simCamera) {
			for range 3 {
				constant(c, c.frame(frames.Bias, 0, 0, 0))
			}
		}, "", map[string]fact.Code{"offset_adu": sensor.ConstantFrames, "read_noise_adu": sensor.ConstantFrames, "sample_step_adu": sensor.ConstantFrames}},
		{"copies of one frame", func(c *simCamera) {
			first := c.frame(frames.Bias, 0, 0, 0)
			for range 3 {
				copy(c.store[c.frame(frames.Bias, 0, 0, 0)], c.store[first])
			}
		}, "offset_adu", map[string]fact.Code{"read_noise_adu": stack.NoDifference, "fixed_pattern_adu": stack.NoDifference, "column_banding": stack.NoDifference}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := quiet()
			c.init(10)
			test.make(&c)
			s := c.analyse(t).kind("bias")[0]
			for _, m := range strings.Fields(test.has) {
				if v := s.Figure(m).Value; !v.OK() {
					t.Errorf("%v: %v", m, v.Why)
				}
			}
			for m, why := range test.lacks {
				if v := s.Figure(m).Value; v.OK() || v.Why.Code != why {
					t.Errorf("%s = %v, reason %v, want %s", m, v.V, v.Why, why)
				}
			}
		})
	}
}

// A master of N frames holds the read noise over the root of N.
func TestBiasMasterNoise(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(11)
	c.frames(9, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("bias")[0]
	raw := math.Sqrt(36 + 1.0/12) // what a frame shows, quantised
	within(t, s, "master_noise_adu", raw/3, 0.01*raw/3)
	for i, m := range s.Bias.Masters {
		if m.N != sensor.MasterCounts[i] || !(math.Abs(m.ADU-raw/math.Sqrt(float64(m.N))) <= 0.01*m.ADU) {
			t.Errorf("master of %d: %+v", sensor.MasterCounts[i], m)
		}
	}
	if s.Bias.Diff.N() != 8*uint64(c.w*c.h) || s.Bias.Master == nil {
		t.Error("the figures' data is not complete")
	}
}
