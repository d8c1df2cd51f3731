package calib

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// A camera with dust, falloff and a full well, over its whole range of light.
func TestFlatFigures(t *testing.T) {
	t.Parallel()
	c := simCamera{w: 512, h: 384, gain: 0.8, step: 1, offset: 1000, read: 3, prnu: 0.007, vignette: 0.25,
		dust: []dust.Shadow{{X: 120, Y: 100, Diameter: 40, DepthPct: 6}, {X: 380, Y: 250, Diameter: 60, DepthPct: 4}, {X: 250, Y: 330, Diameter: 30, DepthPct: 8}}}
	c.init(40)
	c.frames(6, frames.Bias, 0, 0, 0)
	for range 12 {
		c.frame(frames.Flat, 4, 0, 25000*(1+0.003*c.rng.NormFloat64()))
	}
	r := c.analyse(t)
	s := r.kind("flat")[0]
	within(t, s, "gain_e_per_adu", 0.8, 0.008)
	within(t, s, "prnu_pct", 0.7, 0.02)
	within(t, s, "dust_shadows", 3, 0)
	within(t, s, "saturated_fraction", 0, 0)
	// 0.3 % of scatter from 12 values and 10 degrees of freedom: to 22 %.
	within(t, s, "flicker_pct", 0.3, 0.16)
	// Corners: u²+v² from about 1.53 in a square of an eighth of the height; the
	// centre is brightest.
	corner := 0.0
	for y := range 48 {
		for x := range 48 {
			u, v := 2*float64(x)/511-1, 2*float64(y)/383-1
			corner += 100 * 0.25 * (u*u + v*v) / 2 / (48 * 48)
		}
	}
	within(t, s, "corner_falloff_pct", corner, 0.6)
	// 12 frames of 25000 e- at the middle, less falloff: each pixel to
	// sqrt(12·25000·0.92) at the mean level.
	within(t, s, "master_snr", math.Sqrt(12*25000*0.917), 15)
	for _, want := range c.dust {
		near := false
		for _, got := range s.Flat.Shadows {
			near = near || math.Hypot(got.X-want.X, got.Y-want.Y) < 5 && math.Abs(got.Diameter-want.Diameter) < 0.35*want.Diameter
		}
		if !near {
			t.Errorf("no shadow at %g,%g: %+v", want.X, want.Y, s.Flat.Shadows)
		}
	}
	if s.Flat.Illumination.Values == nil || s.Flat.Master == nil || len(s.Flat.Points) != 11 {
		t.Error("the figures' data is not complete")
	}
}

// The transfer curve: slope, full well where it bends, linearity.
// Dead pixels, two of them side by side, one in a corner, and a column.
func TestFlatDeadPixels(t *testing.T) {
	t.Parallel()
	for _, bayer := range []string{"", "RGGB"} {
		c := simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.005, vignette: 0.05, bayer: bayer}
		c.init(46)
		want := [][2]int{{0, 0}, {70, 20}, {71, 20}}
		for y := 30; y < 60; y++ {
			want = append(want, [2]int{200, y})
		}
		for _, p := range want {
			c.respond[p[1]*c.w+p[0]] = 0.2
		}
		c.respond[100*c.w+100] = 0.6 // weak, not dead
		c.rate[100*c.w+101] = 500    // hot
		c.frames(4, frames.Bias, 0, 0, 0)
		c.frames(4, frames.Flat, 3, 0, 15000)
		s := c.analyse(t).kind("flat")[0]
		var got [][2]int
		for _, d := range s.Flat.Dead {
			got = append(got, [2]int{d.X, d.Y})
			if !(math.Abs(d.Response-0.2) <= 0.02) {
				t.Errorf("%+v, want a response of 0.2", d)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q: dead %v, want %v", bayer, got, want)
		}
		for _, m := range s.Metrics() {
			if m.Name == "prnu_pct" && !strings.HasPrefix(fmt.Sprint(m.Note), "[dead_pixels(pixels=33, ") {
				t.Errorf("note %v", m.Note)
			}
		}
		within(t, s, "prnu_pct", 0.5, 0.03) // as without them
	}
}

func TestTransferCurve(t *testing.T) {
	t.Parallel()
	c := simCamera{w: 320, h: 256, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.006, fullWell: 24000, vignette: 0.1}
	c.init(41)
	c.frames(6, frames.Bias, 0, 0, 0)
	for _, level := range []float64{0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0, 1.1} {
		c.frames(2, frames.Flat, 10*level, 0, 24000*level)
	}
	r := c.analyse(t)
	s := r.kind("camera")[0]
	within(t, s, "gain_e_per_adu", 0.5, 0.005)
	fit := s.Summary.TransferFit
	if !(math.Abs(1/fit.B-0.5) <= 0.01) || !(math.Abs(fit.A) <= 5*fit.ErrA+1) {
		t.Errorf("fit %+v", fit)
	}
	if !fact.Has(s.Summary.FullWell.Note, sensor.WellByCurve) {
		t.Error("the full well is not seen")
	}
	// The variance peaks between the last level below the well and the well.
	within(t, s, "full_well_e", 22800, 2000)
	within(t, s, "dynamic_range_stops", math.Log2(22800.0/3), 0.15)
	within(t, s, "linearity_error_pct", 0, 0.3)
	within(t, r.kind("flat")[0], "prnu_pct", 0.6, 0.015) // of the flats below the well: full pixels are alike
	if n := len(s.Summary.Linearity); n < 8 {
		t.Errorf("%d points of linearity", n)
	}
}

// A sensor whose response bends by 4 % at full scale shows it in linearity.
func TestLinearityError(t *testing.T) {
	t.Parallel()
	c := simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 800, read: 3}
	c.init(42)
	c.frames(4, frames.Bias, 0, 0, 0)
	var want []float64
	for _, level := range []float64{0.1, 0.25, 0.4, 0.55, 0.7, 0.85} {
		bent := level * (1 - 0.04*level)
		want = append(want, bent)
		c.frames(2, frames.Flat, 10*level, 0, 30000*bent)
	}
	seconds := []float64{1, 2.5, 4, 5.5, 7, 8.5}
	line, err := stats.FitLine(seconds, want, want)
	if err != nil {
		t.Fatal(err)
	}
	mean := 0.0
	for i, v := range want {
		mean += 100 * math.Abs(v/line.At(seconds[i])-1) / float64(len(want))
	}
	within(t, c.analyse(t).kind("camera")[0], "linearity_error_pct", mean, 0.05)
}

// Flats in twilight drift; a lamp bands single ones; saturated ones are left out.
func TestFlatTrouble(t *testing.T) {
	t.Parallel()
	c := simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.005}
	c.init(43)
	c.frames(4, frames.Bias, 0, 0, 0)
	for i := range 8 {
		c.frame(frames.Flat, 3, 0, 15000*(1-0.02*float64(i)))
	}
	banded := c.frame(frames.Flat, 3, 0, 12500)
	for y := range c.h {
		for x := range c.w {
			p := &c.store[banded][y*c.w+x]
			*p = uint16(float64(*p) * (1 + 0.02*math.Sin(float64(y)/2)))
		}
	}
	bright := c.frame(frames.Flat, 3, 0, 80000)
	s := c.analyse(t).kind("flat")[0]
	w := fmt.Sprint(s.Warnings)
	if !strings.Contains(w, "flats_banded(files="+banded.Name) {
		t.Errorf("the banded flat is not named: %q", w)
	}
	if !strings.Contains(w, "flat_saturated(file="+bright.Name) {
		t.Errorf("the saturated flat is not named: %q", w)
	}
	within(t, s, "gain_e_per_adu", 0.5, 0.015)
}

// Twilight falls by a share of itself from flat to flat: that is no flicker, however
// steep, and flicker on top of it is told as it is.
func TestTwilightDrift(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		level        func(i int) float64 // of flat i of 8, of the first
		flicker, tol float64             // %, of 6 triples to a third and more
		drift        float64             // %, last over first
	}{
		{"straight", func(i int) float64 { return 1 - 0.02*float64(i) }, 0, 0.05, -14},
		{"by a fifth each", func(i int) float64 { return math.Pow(0.8, float64(i)) }, 0, 0.05, 100 * (math.Pow(0.8, 7) - 1)},
		{"ever faster", func(i int) float64 { return math.Pow(0.9, float64(i)*(1+0.02*float64(i))) }, 0, 0.4, 100 * (math.Pow(0.9, 7*1.14) - 1)},
		{"by a tenth each, flickering", func(i int) float64 {
			return math.Pow(0.9, float64(i)) * (1 + 0.02*[]float64{1, -1, -1, 1, 0.5, -1.2, 1, -0.3}[i])
		}, 2, 0.7, 100 * (math.Pow(0.9, 7) - 1)},
	} {
		cam := simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.005}
		cam.init(44)
		cam.frames(4, frames.Bias, 0, 0, 0)
		for i := range 8 {
			cam.frame(frames.Flat, 3, 0, 15000*c.level(i))
		}
		s := cam.analyse(t).kind("flat")[0]
		within(t, s, "gain_e_per_adu", 0.5, 0.01) // a drift of the light does not matter
		within(t, s, "prnu_pct", 0.5, 0.03)
		within(t, s, "flicker_pct", c.flicker, c.tol)
		if d := s.Flat.DriftPct; !(math.Abs(d.V-c.drift) <= 2.5) { // a course that is none of a constant share, and flicker, by so much at most
			t.Errorf("%s: drift %+v, want %.1f", c.name, d, c.drift)
		}
	}
}

// What cannot be measured of flats has a reason.
func TestFlatReasons(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		make  func(c *simCamera)
		lacks map[string]fact.Code
	}{
		{"one flat", func(c *simCamera) {
			c.frames(3, frames.Bias, 0, 0, 0)
			c.frames(1, frames.Flat, 3, 0, 15000)
		}, map[string]fact.Code{"gain_e_per_adu": sensor.GainNeedsPair, "flicker_pct": sensor.FlickerNeedsFlats, "prnu_pct": stack.OneFrame, "master_snr": stack.OneFrame}},
		{"no bias", func(c *simCamera) { c.frames(2, frames.Flat, 3, 0, 15000) },
			map[string]fact.Code{"gain_e_per_adu": sensor.NoBiasPair}},
		{"one bias", func(c *simCamera) {
			c.frames(1, frames.Bias, 0, 0, 0)
			c.frames(2, frames.Flat, 3, 0, 15000)
		}, map[string]fact.Code{"gain_e_per_adu": sensor.NoBiasPair}},
		{"copies of one flat", func(c *simCamera) {
			c.frames(3, frames.Bias, 0, 0, 0)
			first := c.frame(frames.Flat, 3, 0, 15000)
			copy(c.store[c.frame(frames.Flat, 3, 0, 15000)], c.store[first])
		}, map[string]fact.Code{"gain_e_per_adu": sensor.FlatsAlike, "prnu_pct": stack.NoDifference}},
		{"dark flats", func(c *simCamera) {
			c.frames(3, frames.Bias, 0, 0, 0)
			c.frames(3, frames.Flat, 3, 0, 0)
		}, map[string]fact.Code{"gain_e_per_adu": sensor.NoUsableFlat, "level_fraction": sensor.NoUsableFlat, "dust_shadows": sensor.NoUsableFlat}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := simCamera{w: 256, h: 192, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.005}
			c.init(45)
			test.make(&c)
			s := c.analyse(t).kind("flat")[0]
			for m, why := range test.lacks {
				if v := s.Figure(m).Value; v.OK() || v.Why.Code != why {
					t.Errorf("%s = %v, reason %v, want %s", m, v.V, v.Why, why)
				}
			}
		})
	}
}

// A colour mosaic is measured plane by plane: its colours' unequal light is no
// non-uniformity, and each plane of the master flat is divided by its own mean.
func TestFlatMosaic(t *testing.T) {
	t.Parallel()
	c := simCamera{w: 320, h: 256, gain: 0.5, step: 1, offset: 800, read: 3, prnu: 0.006, bayer: "RGGB"}
	c.init(46)
	for i := range c.lightMap {
		c.lightMap[i] = []float64{0.5, 1, 1, 0.3}[i/c.w%2*2+i%c.w%2]
	}
	c.frames(6, frames.Bias, 0, 0, 0)
	c.frames(8, frames.Flat, 3, 0, 20000)
	r := c.analyse(t)
	s := r.kind("flat")[0]
	within(t, s, "gain_e_per_adu", 0.5, 0.006)
	within(t, s, "prnu_pct", 0.6, 0.05)
	within(t, s, "dust_shadows", 0, 0)
	if got := r.kind("bias")[0].Bias.Planes; len(got) != 4 || got[0].Name != "R" || got[3].Name != "B" || got[1].Name != "G1" {
		t.Errorf("planes %+v", got)
	}
	lights := lightsOf(&c, 60)
	flat := r.For(lights).planes.Flat.Pixels()
	for p := range 4 {
		var plane []float32
		for i, v := range flat {
			if i/c.w%2*2+i%c.w%2 == p {
				plane = append(plane, v)
			}
		}
		if m := stats.Mean(plane); !(math.Abs(m-1) <= 1e-4) {
			t.Errorf("plane %d of the master flat has mean %g", p, m)
		}
	}
}

// lightsOf is a group of one sub as the camera would shoot it.
func lightsOf(c *simCamera, seconds float64) *frames.Group {
	m := frames.NoMeta()
	m.Exposure, m.SensorTemp, m.SetTemp, m.Camera, m.BinX, m.BinY, m.GainSetting, m.OffsetSetting = seconds, 0, 0, "Invented Mono 1", 1, 1, 100, 30
	f := &frames.Frame{Name: "sub.fits", Kind: frames.Light, Meta: m, Image: frames.Layout{Width: c.w, Height: c.h, Planes: 1, Bitpix: 16}}
	return frames.Groups([]*frames.Frame{f})[0]
}

// Without flats nothing shows where samples saturate; subs with a silent header
// make no camera of their own.
func TestNoFlatsNoSaturation(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(47)
	c.frames(3, frames.Bias, 0, 0, 0)
	s := c.analyse(t).kind("camera")[0]
	for _, m := range []string{"saturation_adu", "full_well_e", "dynamic_range_stops", "linearity_error_pct", "gain_e_per_adu"} {
		if v := s.Figure(m).Value; v.OK() || v.Why.Code == "" {
			t.Errorf("%v = %v, reason %v", m, v.V, v.Why)
		}
	}
	c = quiet()
	c.init(48)
	c.frames(2, frames.Light, 60, 0, 500)
	if n := len(c.analyse(t).Sets); n != 0 {
		t.Errorf("%d sets of a folder of subs", n)
	}
}

// The response of a mosaic's pixels is told apart from noise that differs from colour to
// colour, whichever of them comes first.
func TestResponseOfMosaics(t *testing.T) {
	t.Parallel()
	for _, order := range []string{"RGGB", "BGGR", "GBRG", "GRBG"} {
		c := quiet()
		c.bayer, c.prnu = order, 0.006
		c.init(33)
		for i := range c.lightMap {
			c.lightMap[i] *= map[byte]float64{'R': 0.8, 'G': 1.1, 'B': 0.6}[order[i/c.w%2*2+i%c.w%2]]
		}
		c.frames(4, frames.Bias, 0, 0, 0)
		c.frames(8, frames.Flat, 1, 0, 4000)
		s := c.analyse(t).kind("flat")[0]
		// 5 %: noise of 0.6 % that 8 flats leave in 0.6 % of response.
		within(t, s, "prnu_pct", 0.6, 0.05*0.6)
	}
}

// Dust shadows leave the response of the pixels as it is, in
// mosaics too, whose blocks are wide.
func TestResponseBesideDust(t *testing.T) {
	t.Parallel()
	for _, bayer := range []string{"", "GBRG"} {
		c := simCamera{w: 400, h: 300, gain: 0.8, step: 1, offset: 500, read: 3, prnu: 0.006, vignette: 0.2, bayer: bayer, dust: []dust.Shadow{
			{X: 70, Y: 60, Diameter: 30, DepthPct: 8}, {X: 310, Y: 90, Diameter: 36, DepthPct: 6}, {X: 180, Y: 210, Diameter: 32, DepthPct: 9}, {X: 60, Y: 230, Diameter: 44, DepthPct: 7},
			{X: 340, Y: 240, Diameter: 28, DepthPct: 9}, {X: 190, Y: 90, Diameter: 30, DepthPct: 8}, {X: 265, Y: 175, Diameter: 26, DepthPct: 10}}}
		c.init(90)
		c.frames(6, frames.Bias, 0, 0, 0)
		for range 8 {
			c.frame(frames.Flat, 4, 0, 25000)
		}
		s := c.analyse(t).kind("flat")[0]
		v := s.Figure("prnu_pct").Value
		t.Logf("%q: %v, %d shadows", bayer, v, len(s.Flat.Shadows))
		if !(math.Abs(v.V-0.6) <= 2*v.Err) { // the noise of this seed is within 1
			t.Errorf("%q: %v, truth 0.6", bayer, v)
		}
	}
}

// A colour sensor whose green half is brighter than all of red and blue has no sample near
// its middle one. A steady lamp is steady all the same, and one that flickers does so by
// as much.
func TestFlickerOfMosaics(t *testing.T) {
	t.Parallel()
	for _, flickers := range []float64{0, 0.01} {
		c := simCamera{w: 240, h: 160, gain: 0.8, step: 1, offset: 500, read: 3, prnu: 0.006, vignette: 0.1, bayer: "GRBG"}
		c.init(91)
		for i := range c.lightMap {
			if x, y := i%c.w, i/c.w; (x+y)%2 == 1 { // red and blue
				c.lightMap[i] *= 0.6
			}
		}
		c.frames(4, frames.Bias, 0, 0, 0)
		for i := range 12 {
			c.frame(frames.Flat, 4, 0, 15000*(1+flickers*float64(i%2)))
		}
		v := c.analyse(t).kind("flat")[0].Figure("flicker_pct").Value
		// Levels that alternate by d are d off the mean of their neighbours: times sqrt(2/3).
		if want := 100 * flickers * math.Sqrt(2./3); !v.OK() || !(math.Abs(v.V-want) <= 0.05) {
			t.Errorf("flickers by %v %%, truth %.3f", v, want)
		}
	}
}
