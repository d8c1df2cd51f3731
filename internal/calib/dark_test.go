package calib

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// A dark set's own figures against truth: mean, non-uniformity, hot pixels
// despite particle hits.
func TestDarkFigures(t *testing.T) {
	t.Parallel()
	c := model16()
	c.gain, c.warm, c.hotShare, c.hotMin = 0.5, 0.0012, 0.003, 0.1
	c.init(20)
	c.frames(20, frames.Bias, 0, 0, 0)
	for range 8 {
		c.frame(frames.Dark, 300, 0, 0)
		c.hits(200)
	}
	c.frames(4, frames.Flat, 5, 0, 12000)
	r := c.analyse(t)
	s := r.setAt(t, 300, 0)
	mean := 0.0
	for _, rate := range c.rate {
		mean += rate / float64(len(c.rate))
	}
	// Hot pixels dominate the mean; the gain is known to 1 %, shot noise adds as much.
	within(t, s, "dark_current_mean_e_per_s", mean, 0.03*mean)
	// 0.36 e- of pattern in 0.7 e- of noise left by 8 darks and 20 bias frames:
	// known to 2 to 3 % at 82000 pixels, of which three, and to the gain's 1 %.
	within(t, s, "warm_nonuniformity_e_per_s", c.warm, 0.1*c.warm)
	checkHot(t, s, &c, 0)
	within(t, s, "temperature_offset_c", 0, 0)
	if v := s.Figure("glow_x").Value; v.OK() || v.Why.Code != sensor.NoGlow {
		t.Errorf("glow at %v, reason %v", v.V, v.Why)
	}
	if d := s.Dark; d.Rates.N() != uint64(c.w*c.h) || d.Master == nil || len(d.Frames) != 8 || d.RateUnit != "e-/s" {
		t.Error("the figures' data is not complete")
	}
}

func TestDarkGlow(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.glow, c.dark, c.hotShare, c.hotMin = 0.4, 0.01, 0.002, 1
	c.init(21)
	c.frames(10, frames.Bias, 0, 0, 0)
	c.frames(8, frames.Dark, 300, 0, 0)
	c.frames(2, frames.Flat, 5, 0, 12000)
	s := c.analyse(t).setAt(t, 300, 0)
	// 120 e- at the very corner; its cell of 8 px shows the middle of it.
	v := s.Figure("glow_e").Value
	if !v.OK() || v.V < 100 || v.V > 122 {
		t.Errorf("glow %+v", v)
	}
	within(t, s, "glow_x", float64(c.w)-4.5, 8)
	within(t, s, "glow_y", float64(c.h)-4.5, 8)
	if s.Dark.GlowPlace != sensor.UpperRight {
		t.Errorf("glow in the %q", s.Dark.GlowPlace)
	}
	checkHot(t, s, &c, 0) // the glowing corner is no crowd of hot pixels
	// Alike but for hot ones: what the noise of both masters, 2.9 ADU, leaves open.
	if v := s.Figure("warm_nonuniformity_e_per_s").Value; v.OK() || s.Dark.Uneven > 0.6 {
		t.Errorf("pixels differ by %v e-/s, %.2f ADU at most: the glow is none of theirs", v, s.Dark.Uneven)
	}
}

// A glow that reaches far into the frame makes its mean pixel noisier than the median one;
// that is no black level taken off, and the dark current is still the median pixel's.
func TestDarkCurrentBesideBroadGlow(t *testing.T) {
	t.Parallel()
	for _, height := range []float64{0.1, 0.4} {
		c := quiet()
		c.dark = 0.003
		c.init(26)
		for i := range c.rate {
			x := float64(i%c.w)/float64(c.w) - 1
			c.rate[i] += height / math.Pow(1+x*x/0.02, 1.5)
		}
		truth := stats.Median(c.rate)
		c.frames(12, frames.Bias, 0, 0, 0)
		c.frames(8, frames.Dark, 300, 0, 0)
		c.frames(2, frames.Flat, 5, 0, 12000)
		s := c.analyse(t).setAt(t, 300, 0)
		v := s.Figure("dark_current_e_per_s").Value
		t.Logf("%v, truth %.4f, %v", v, truth, note(s, "dark_current_e_per_s"))
		// 3 %: the gain of two flats.
		if !v.OK() || !(math.Abs(v.V-truth) <= 3*v.Err+0.03*truth) || fact.Has(note(s, "dark_current_e_per_s"), sensor.ByNoise) {
			t.Errorf("%v e-/s, truth %.4f: %v", v, truth, note(s, "dark_current_e_per_s"))
		}
		if leak := s.Figure("light_leak_pct").Value; leak.OK() || !s.Figure("glow_e").Value.OK() {
			t.Errorf("the glow of %v e- is told as a leak of %v %%", s.Figure("glow_e").Value, leak)
		}
	}
}

func TestDarkLightLeak(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.1
	c.init(22)
	for i := range c.rate { // 40 % from left to right, in the middle 0.1 e-/s
		c.rate[i] *= 0.8 + 0.4*float64(i%c.w)/float64(c.w)
	}
	c.frames(10, frames.Bias, 0, 0, 0)
	c.frames(6, frames.Dark, 300, 0, 0)
	c.frames(2, frames.Flat, 5, 0, 12000)
	s := c.analyse(t).setAt(t, 300, 0)
	within(t, s, "light_leak_pct", 40, 2)
	if !fact.Has(s.Warnings, sensor.DarkGradient) {
		t.Errorf("warnings %v", s.Warnings)
	}
	// All pixels are alike: the gradient is smooth, and no pattern from pixel to pixel.
	if v := s.Figure("warm_nonuniformity_e_per_s").Value; v.OK() {
		t.Errorf("the gradient is told as a pattern of %v e-/s", v)
	}

	c = quiet()
	c.dark = 0.1
	c.init(23)
	c.frames(10, frames.Bias, 0, 0, 0)
	for i := range 8 { // dawn
		c.frame(frames.Dark, 300, 0, float64(i))
	}
	c.frames(2, frames.Flat, 5, 0, 12000)
	s = c.analyse(t).setAt(t, 300, 0)
	// 7 e- more over the set, on 30 e- and their mean of 3.5 e-.
	within(t, s, "light_leak_pct", 100*7/33.5, 2)
	if !fact.Has(note(s, "light_leak_pct"), sensor.LeakDrift) {
		t.Errorf("note %v", note(s, "light_leak_pct"))
	}
}

// A sensor that warms makes its darks drift, by no light. Truth is what the frames are made with.
func TestWarmingIsNoLeak(t *testing.T) {
	t.Parallel()
	for _, dawn := range []float64{0, 2} { // e- more from dark to dark
		c := quiet()
		c.init(24)
		c.frames(10, frames.Bias, 0, 0, 0)
		for i := range 8 {
			warmer := 0.1*float64(i) - 0.35
			c.frame(frames.Dark, 300, warmer, 30*math.Exp2(warmer/6.5)+dawn*float64(i)).Meta.SetTemp = 0
		}
		c.frames(2, frames.Flat, 5, 0, 12000)
		leak := c.analyse(t).setAt(t, 300, 0).Figure("light_leak_pct").Value
		if want := 100 * 7 * dawn / (31 + 3.5*dawn); dawn == 0 && leak.OK() || dawn > 0 && !(math.Abs(leak.V-want) < 3*leak.Err+2) {
			t.Errorf("%g e- a dark: leak %v, want %.1f", dawn, leak, want)
		}
	}
}

// Darks of several exposures: the slope in time is the dark current whatever
// the offset does, an intercept that is not the bias is told.
func TestDarkExposureSeries(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(24)
	c.frames(6, frames.Bias, 0, 0, 0)
	c.offset += 5 // moved between bias and darks
	for _, s := range []float64{30, 60, 120, 300} {
		c.frames(3, frames.Dark, s, 0, 0)
	}
	c.frames(2, frames.Flat, 5, 0, 12000)
	r := c.analyse(t)
	detail := r.kind("camera")[0].Summary
	if len(detail.Series) != 1 || len(detail.Series[0].Points) != 4 {
		t.Fatalf("series %+v", detail.Series)
	}
	e := detail.Series[0]
	if !(math.Abs(e.Fit.B-0.4) <= 0.004) || !(math.Abs(e.Fit.A-5) <= 0.3) || e.Finding.Code != sensor.OffsetMoved {
		t.Errorf("fit %+v: %v", e.Fit, e.Finding)
	}
	if !fact.Has(r.kind("camera")[0].Warnings, sensor.OffsetMoved) {
		t.Error("no warning that the offset moved")
	}
}

// An offset that moves more than the dark signal: no dark current is claimed by
// the level, above all no negative one. Far off, the noise tells it.
func TestDarkOffsetMovesMoreThanSignal(t *testing.T) {
	t.Parallel()
	for _, moved := range []float64{-3, 0.4} {
		c := quiet()
		c.dark = 0.001
		c.init(25)
		for i := range 4 {
			c.offset = 1000 + []float64{0, 1.1, -1.1, 0.5}[i]
			c.frame(frames.Bias, 0, 0, 0)
		}
		c.offset = 1000 + moved
		c.frames(2, frames.Dark, 300, 0, 0)
		c.frames(2, frames.Flat, 5, 0, 12000)
		s := c.analyse(t).setAt(t, 300, 0)
		if moved == -3 {
			v := s.Figure("dark_current_e_per_s").Value
			if !fact.Has(note(s, "dark_current_e_per_s"), sensor.ByNoise) || !(math.Abs(v.V-c.dark) <= 3*v.Err) || v.Err > 0.5*c.dark {
				t.Errorf("%v ± %v e-/s, %v", v.V, v.Err, note(s, "dark_current_e_per_s"))
			}
			continue
		}
		for _, m := range []string{"dark_current_e_per_s", "dark_current_mean_e_per_s", "dark_current_adu_per_s"} {
			if v := s.Figure(m).Value; v.OK() || v.Why.Code != sensor.NoClaim {
				t.Errorf("offset %+g: %v = %v, reason %v", moved, m, v.V, v.Why)
			}
		}
	}
}

func TestDarkWithoutBias(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(31)
	c.frames(5, frames.Dark, 100, 0, 0)
	s := c.analyse(t).setAt(t, 100, 0)
	if v := s.Figure("dark_current_adu_per_s").Value; v.OK() || v.Why.Code != sensor.NoBiasAlike {
		t.Errorf("one exposure: %+v", v)
	}
	c.frames(5, frames.Dark, 300, 0, 0)
	s = c.analyse(t).setAt(t, 300, 0)
	within(t, s, "dark_current_adu_per_s", 0.4, 0.004)
	if !fact.Has(note(s, "dark_current_adu_per_s"), sensor.SlopeAlone) {
		t.Errorf("note %v", note(s, "dark_current_adu_per_s"))
	}
	if v := s.Figure("dark_current_e_per_s").Value; v.OK() || v.Why.Code != sensor.GainNotGiven {
		t.Errorf("without a gain: %+v", v)
	}
}

func TestDarkAlreadySubtracted(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(32)
	c.frames(5, frames.Bias, 0, 0, 0)
	for range 3 {
		c.frame(frames.Dark, 100, 0, 0).Meta.DarkSubtracted = true
	}
	c.offset = 20
	c.frames(3, frames.Dark, 200, 0, 0)
	r := c.analyse(t)
	if v := r.setAt(t, 100, 0).Figure("dark_current_adu_per_s").Value; v.OK() || v.Why.Code != sensor.DarkTakenOff {
		t.Errorf("by the header: %+v", v)
	}
	if v := r.setAt(t, 200, 0).Figure("dark_current_adu_per_s").Value; v.OK() || v.Why.Code != sensor.UnderBias {
		t.Errorf("by the level: %+v", v)
	}
}

func TestDarkTemperatureRegulation(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(33)
	c.frames(5, frames.Bias, 0, -10, 0)
	for _, celsius := range []float64{-8.6, -8.4, -8.5, -8.1} {
		c.frame(frames.Dark, 100, -10, 0).Meta.SensorTemp = celsius
	}
	s := c.analyse(t).setAt(t, 100, -10)
	within(t, s, "temperature_offset_c", 1.6, 1e-9)
	within(t, s, "temperature_rms_c", math.Sqrt((0.04+0+0.01+0.09)/4), 1e-9) // about the mean, -8.4
	if !fact.Has(s.Warnings, sensor.DarksOffSetPoint) {
		t.Errorf("warnings %v", s.Warnings)
	}
}

// The list and the mask say the same, and the mask reads back as written.
func TestHotFiles(t *testing.T) {
	t.Parallel()
	c := model16()
	c.init(34)
	c.frames(6, frames.Bias, 0, 0, 0)
	c.frames(6, frames.Dark, 300, 0, 0)
	c.frames(2, frames.Flat, 5, 0, 12000)
	s := c.analyse(t, func(o *Options) { o.Maps = true }).setAt(t, 300, 0)
	var text, fits bytes.Buffer
	if err := WriteHotCSV(&text, s); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(text.String()), "\n")
	if lines[0] != "x,y,rate_e_per_s" || len(lines)-1 != s.Dark.HotCount {
		t.Errorf("%q and %d lines, %d hot pixels", lines[0], len(lines)-1, s.Dark.HotCount)
	}
	if err := WriteMaskFITS(&fits, s); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "mask.fits")
	if err := os.WriteFile(path, fits.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	read, err := frames.Scan(context.Background(), []string{filepath.Dir(path)}, frames.DefaultScanOptions)
	if err != nil || len(read) != 1 || read[0].Err != nil {
		t.Fatal(err, read)
	}
	var im frames.Image
	if err := read[0].Read(&im); err != nil {
		t.Fatal(err)
	}
	marked := 0
	for _, v := range im.Float32(0, nil) {
		marked += int(v)
	}
	if im.Width != c.w || im.Height != c.h || marked != s.Dark.HotCount {
		t.Errorf("mask %dx%d marks %d of %d", im.Width, im.Height, marked, s.Dark.HotCount)
	}
	for _, h := range s.Dark.Hot {
		if im.Float32(0, nil)[h.Y*c.w+h.X] != 1 {
			t.Fatalf("%d,%d is not in the mask", h.X, h.Y)
		}
	}
	if err := WriteMaskFITS(&fits, &sensor.Set{}); err == nil {
		t.Error("a set without darks has a mask")
	}
}

// Pixels that jump between two levels are above the limit in most of few darks by chance,
// as many as are below it: the number of hot pixels leaves them out.
func TestTelegraphPixelsAreNotHot(t *testing.T) {
	t.Parallel()
	for _, share := range []float64{0, 0.02} {
		c := quiet()
		c.dark, c.hotShare, c.hotMin, c.telegraph = 0.2, 0.002, 4, share
		c.init(36)
		c.frames(10, frames.Bias, 0, 0, 0)
		c.frames(3, frames.Dark, 100, 0, 0)
		s := c.analyse(t).setAt(t, 100, 0)
		truth := 0.0
		for _, hot := range c.hot {
			if hot {
				truth++
			}
		}
		v := s.Figure("hot_pixels").Value
		if jump := s.Dark.ColdCount; !(math.Abs(v.V-truth) <= 3*v.Err) || (jump > 20) != (share > 0) { // some forty of a thousand do
			t.Errorf("%g of the pixels jump: %v hot ± %v of %v, %d as far below, %d listed", share, v.V, v.Err, truth, jump, s.Dark.HotCount)
		}
	}
}

// Constant frames, and one dark with one bias: reasons, not numbers.
func TestDarkReasons(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.dark = 0.2
	c.init(35)
	c.frames(1, frames.Bias, 0, 0, 0)
	c.frames(1, frames.Dark, 100, 0, 0)
	for range 3 {
		p := c.store[c.frame(frames.Dark, 200, 0, 0)]
		for i := range p {
			p[i] = 1234
		}
	}
	r := c.analyse(t)
	lacks := func(s *sensor.Set, why fact.Code, metrics ...string) {
		t.Helper()
		for _, m := range metrics {
			if v := s.Figure(m).Value; v.OK() || v.Why.Code != why {
				t.Errorf("%s: %s = %v, reason %v, want %s", s.Label, m, v.V, v.Why, why)
			}
		}
	}
	one := r.setAt(t, 100, 0)
	lacks(one, sensor.NoNoiseOfOne, "warm_nonuniformity_e_per_s")
	lacks(one, sensor.GainNotGiven, "dark_current_e_per_s", "hot_threshold_e_per_s")
	lacks(one, sensor.NoGlow, "glow_e", "glow_x", "glow_y")
	lacks(one, sensor.TempsOfTwo, "temperature_rms_c")
	if !fact.Has(note(one, "hot_pixels"), sensor.HotOneBySigma) {
		t.Errorf("note %v", note(one, "hot_pixels"))
	}
	var all []string
	for _, m := range r.setAt(t, 200, 0).Metrics() {
		all = append(all, m.Name)
	}
	if len(all) != 15 {
		t.Errorf("%d metrics of a dark set, want the contract's 15", len(all))
	}
	lacks(r.setAt(t, 200, 0), sensor.ConstantFrames, all...)
}
