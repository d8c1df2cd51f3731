package calib

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// covered is a small camera with bias, darks and flats at one setting.
func covered(seed uint64) *simCamera {
	c := &simCamera{w: 96, h: 80, gain: 0.5, step: 1, offset: 1000, read: 3, dark: 0.05, prnu: 0.01, vignette: 0.3, hotShare: 0.003, hotMin: 1}
	c.init(seed)
	c.frames(6, frames.Bias, 0, 0, 0)
	c.frames(5, frames.Dark, 60, 0, 0)
	for range 4 {
		c.frame(frames.Flat, 3, 0, 15000).Meta.Rotator = 45
	}
	return c
}

// light adds a sub's header: what the coverage table looks at.
func (c *simCamera) light(change func(*frames.Meta)) {
	f := c.frame(frames.Light, 60, 0, 200)
	f.Meta.Rotator = 45
	change(&f.Meta)
}

// cover writes a match in short.
func cover(m Match) string {
	text := fmt.Sprintf("%d %s", m.Frames, m.Kind)
	for _, x := range m.Mismatches {
		text += fmt.Sprintf(", %s %s, subs %s", x.Property, x.Frames, x.Subs)
	}
	for _, p := range m.Unknown {
		text += ", unknown " + string(p)
	}
	return text
}

func TestCoverage(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name             string
		change           func(*frames.Meta)
		bias, dark, flat string // how each covers the subs, or part of that
		fits             [3]bool
	}{
		{"all fit", func(m *frames.Meta) {}, "6 bias", "5 dark", "4 flat", [3]bool{true, true, true}},
		{"temperature", func(m *frames.Meta) { m.SensorTemp, m.SetTemp = -10, -10 }, "temperature 0.0 °C, subs -10.0 °C", "temperature 0.0 °C, subs -10.0 °C", "4 flat", [3]bool{false, false, true}},
		{"a little warmer", func(m *frames.Meta) { m.SensorTemp = 3 }, "6 bias", "temperature 0.0 °C, subs 3.0 °C", "4 flat", [3]bool{true, false, true}},
		{"exposure", func(m *frames.Meta) { m.Exposure = 300 }, "6 bias", "exposure 60 s, subs 300 s", "4 flat", [3]bool{true, false, true}},
		{"gain", func(m *frames.Meta) { m.GainSetting = 0 }, "gain 100, subs 0", "gain 100, subs 0", "gain 100, subs 0", [3]bool{}},
		{"offset", func(m *frames.Meta) { m.OffsetSetting = 10 }, "offset 30, subs 10", "offset 30, subs 10", "offset 30, subs 10", [3]bool{}},
		{"binning", func(m *frames.Meta) { m.BinX, m.BinY = 2, 2 }, "binning 1x1, subs 2x2", "binning 1x1, subs 2x2", "binning 1x1, subs 2x2", [3]bool{}},
		{"filter", func(m *frames.Meta) { m.Filter = "OIII" }, "6 bias", "5 dark", "filter unknown, subs OIII", [3]bool{true, true, false}},
		{"rotation", func(m *frames.Meta) { m.Rotator = 359 }, "6 bias", "5 dark", "rotation rotator at 45°, subs 359°", [3]bool{true, true, false}},
		{"rotation over the top", func(m *frames.Meta) { m.Rotator = 405.5 }, "6 bias", "5 dark", "4 flat", [3]bool{true, true, true}},
		{"rotation unknown", func(m *frames.Meta) { m.Rotator = math.NaN() }, "6 bias", "5 dark", "4 flat, unknown rotation", [3]bool{true, true, true}},
		{"camera", func(m *frames.Meta) { m.Camera = "Invented Mono 2" }, "camera Invented Mono 1, subs Invented Mono 2", "camera", "camera", [3]bool{}},
		{"silent header", func(m *frames.Meta) { m.GainSetting = math.NaN() }, "6 bias, unknown gain", "unknown gain", "unknown gain", [3]bool{true, true, true}},
		{"two at once", func(m *frames.Meta) { m.Exposure, m.SensorTemp = 120, -5.5 }, "temperature 0.0 °C, subs -5.5 °C", "exposure 60 s, subs 120 s, temperature 0.0 °C, subs -5.5 °C", "4 flat", [3]bool{false, false, true}},
	}
	c := covered(50)
	for _, test := range tests { // each of a target of its own, so that one run covers all
		c.light(func(m *frames.Meta) {
			m.Target = names.Name(test.name)
			test.change(m)
		})
	}
	r := c.analyse(t)
	if len(r.Coverage) != len(tests) {
		t.Fatalf("%d rows", len(r.Coverage))
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			cov := r.Coverage[slices.IndexFunc(r.Coverage, func(c Coverage) bool { return c.Lights.Target == names.Name(test.name) })]
			for i, m := range []Match{cov.Bias, cov.Dark, cov.Flat} {
				want := []string{test.bias, test.dark, test.flat}[i]
				if !strings.Contains(cover(m), want) || m.Fits != test.fits[i] || m.Group == nil {
					t.Errorf("%s: fits %v, %q; want %v, %q", []string{"bias", "dark", "flat"}[i], m.Fits, cover(m), test.fits[i], want)
				}
			}
			if applied, set := r.For(cov.Lights).Flattened, r.FlatSetFor(cov.Lights); applied != (set != nil) {
				t.Errorf("a flat is applied: %v, and weighed: %v", applied, set != nil)
			}
		})
	}
}

// The camera was turned during the night and flats were shot at two of the
// three angles: each group of subs gets its own, and the third none that fits.
func TestCoverageOfEachRotation(t *testing.T) {
	t.Parallel()
	c := covered(53) // four flats at 45°
	for range 3 {
		c.frame(frames.Flat, 3, 0, 15000).Meta.Rotator = 135
	}
	for _, angle := range []float64{45.4, 134.8, 200} {
		c.light(func(m *frames.Meta) { m.Rotator = angle })
	}
	r := c.analyse(t)
	got := map[string]string{}
	flats := map[*frames.Group]bool{}
	for _, cov := range r.Coverage {
		got[cov.Lights.Rotation().String()] = cover(cov.Flat)
		flats[cov.Flat.Group] = true
		if set := r.FlatSetFor(cov.Lights); set == nil || set.Group != cov.Flat.Group {
			t.Errorf("%s: another set than the one that covers", cov.Lights.Label())
		}
	}
	want := map[string]string{
		"rotator at 45°":  "4 flat",
		"rotator at 135°": "3 flat",
		"rotator at 200°": "4 flat, rotation rotator at 45°, subs 200°",
	}
	if !maps.Equal(got, want) || len(flats) != 2 {
		t.Errorf("%v, want %v; %d flat sets used", got, want, len(flats))
	}
}

func TestCoverageSize(t *testing.T) {
	t.Parallel()
	c := covered(51)
	f := c.frame(frames.Light, 60, 0, 200)
	f.Image.Width = 48
	cov := c.analyse(t).Coverage[0]
	if cov.Bias.Fits || !strings.Contains(cover(cov.Bias), "size 96x80, subs 48x80") {
		t.Errorf("%+v", cov.Bias)
	}
}

// What another camera of another size has is nothing that there is for these subs; where the
// size agrees, the name may be spelled another way.
func TestCoverageOfAnotherCamera(t *testing.T) {
	t.Parallel()
	for _, width := range []int{48, 96} {
		c := covered(53)
		f := c.frame(frames.Light, 60, 0, 200)
		f.Image.Width, f.Meta.Camera = width, "Invented Mono 2"
		if bias := c.analyse(t).Coverage[0].Bias; bias.Fits || (bias.Group == nil) != (width == 48) {
			t.Errorf("%d px: %s", width, cover(bias))
		}
	}
}

func TestCoverageNothingThere(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(52)
	c.light(func(*frames.Meta) {})
	cov := c.analyse(t).Coverage[0]
	if cov.Bias.Frames+cov.Dark.Frames+cov.Flat.Frames > 0 || cov.Bias.Kind != frames.Bias || cov.Dark.Fits || cov.Dark.Group != nil {
		t.Errorf("%+v", cov)
	}
}

// What For hands out: the right master, levels above the offset, an even field.
func TestForAndApply(t *testing.T) {
	t.Parallel()
	c := covered(60)
	c.light(func(*frames.Meta) {})
	r := c.analyse(t)
	sub := c.made[len(c.made)-1]
	lights := r.Coverage[0].Lights
	cal := r.For(lights)
	if !cal.HasOffset || len(cal.Hot) == 0 || !cal.DarkTaken {
		t.Fatalf("%+v", cal)
	}
	if !(math.Abs(cal.Gain.V-0.5) <= 0.03) || !(math.Abs(cal.ReadNoise.V-3) <= 0.2) || !(math.Abs(cal.DarkRate.V-0.05) <= 0.004) {
		t.Errorf("gain %+v, read noise %+v, dark rate %+v", cal.Gain, cal.ReadNoise, cal.DarkRate)
	}
	pixels := make([]float32, c.w*c.h)
	for i, v := range c.store[sub] {
		pixels[i] = float32(v)
	}
	cal.Apply(pixels, 0, len(pixels))
	// 200 e- in the middle, a tenth less in the mean over the frame: 400 ADU
	// times the mean of the light everywhere.
	mean := 0.0
	for _, l := range c.lightMap {
		mean += l / float64(len(c.lightMap))
	}
	edge, middle := stats.Median(pixels[:8*c.w]), stats.Median(pixels[36*c.w:44*c.w])
	if !(math.Abs(edge-400*mean) <= 8) || !(math.Abs(middle-400*mean) <= 8) {
		t.Errorf("edge %.1f, middle %.1f ADU, want %.1f", edge, middle, 400*mean)
	}
	again := r.For(frames.Groups([]*frames.Frame{sub})[0])
	if again.planes.Subtract != cal.planes.Subtract {
		t.Error("the master dark was built twice")
	}
}

// Without a fitting dark, the dark signal of another exposure is scaled above
// the bias; without any dark the bias serves, and the notes say so.
func TestForOtherExposures(t *testing.T) {
	t.Parallel()
	c := covered(61)
	r := c.analyse(t)
	level := func(seconds float64) float64 {
		return stats.Median(r.For(lightsOf(c, seconds)).planes.Subtract.Pixels())
	}
	bias := r.kind("bias")[0].Figure("offset_adu").Value.V
	// 0.05 e-/s of 0.5 e-/ADU: 0.1 ADU/s; levels are known to 0.05 ADU, doubled.
	for _, seconds := range []float64{60, 30, 120} {
		if got := level(seconds) - bias; !(math.Abs(got-0.1*seconds) <= 0.25) {
			t.Errorf("%g s: %.2f ADU above the bias, want %.2f", seconds, got, 0.1*seconds)
		}
	}
	if got := level(600) - bias; !(math.Abs(got) <= 0.1) {
		t.Errorf("600 s: a dark of 60 s was stretched tenfold: %.2f ADU above the bias", got)
	}
	if cal := r.For(lightsOf(c, 600)); !cal.HasOffset || cal.DarkTaken {
		t.Errorf("not the bias in place of a dark: %+v", cal)
	}
}

func TestForNothing(t *testing.T) {
	t.Parallel()
	c := quiet()
	c.init(62)
	c.light(func(*frames.Meta) {})
	r := c.analyse(t)
	cal := r.For(r.Coverage[0].Lights)
	if cal.planes != (Planes{}) || cal.HasOffset || cal.DarkTaken || cal.Flattened || cal.Hot != nil || cal.Gain.OK() || cal.DarkRate.OK() || !math.IsNaN(cal.Saturation) {
		t.Errorf("%+v", cal)
	}
	pixels := []float32{1, 2, 3}
	cal.Apply(pixels, 0, len(pixels))
	if pixels[0] != 1 || pixels[2] != 3 {
		t.Errorf("nothing to apply changed the pixels: %v", pixels)
	}
	if cal := (&Result{}).For(nil); cal.Gain.OK() {
		t.Error("an empty result has a gain")
	}
}

// A master that some program made serves where no single frames do.
func TestForReadyMaster(t *testing.T) {
	t.Parallel()
	c := covered(63)
	r := c.analyse(t)
	dark := r.For(lightsOf(c, 60)).planes.Subtract.Pixels()
	kept := c.made[:6] // the bias frames
	master := &frames.Frame{Name: "master_dark.fits", Kind: frames.Dark, Master: true, Meta: c.made[6].Meta, Image: frames.Layout{Width: c.w, Height: c.h, Planes: 1, Bitpix: -32}}
	opt := DefaultOptions
	opt.Read = func(f *frames.Frame, im *frames.Image) error {
		if f == master {
			*im = frames.Image{Width: c.w, Height: c.h, Planes: 1, F32: append([]float32(nil), dark...)}
			return nil
		}
		return c.read16(f, im)
	}
	light := lightsOf(c, 60).Frames[0]
	c.store[light] = c.store[c.frame(frames.Light, 60, 0, 200)] // masters are held against a sub's pixels
	r, err := Analyse(t.Context(), frames.Sort(append(append([]*frames.Frame(nil), kept...), master, light)), opt)
	if err != nil {
		t.Fatal(err)
	}
	if d := r.Coverage[0].Dark; !d.Fits || !d.Master || d.Count != -1 {
		t.Errorf("%+v", d)
	}
	got := r.For(r.Coverage[0].Lights)
	if got.planes.Subtract.Len() == 0 || got.planes.Subtract.Pixels()[5] != dark[5] {
		t.Error("the master is not used")
	}
}

func TestApplyWhereTheFlatIsBlind(t *testing.T) {
	t.Parallel()
	var room *stack.Room
	cal := Calibration{planes: Planes{Subtract: room.Add([]float32{10, 10, 10}), Flat: room.Add([]float32{2, 0, 0.5})}}
	p := []float32{30, 30, 30}
	cal.Apply(p, 0, len(p))
	if p[0] != 10 || !math.IsNaN(float64(p[1])) || p[2] != 40 {
		t.Errorf("%v", p)
	}
}

// A sensor without a set point drifts in its darks as in its subs: all darks of the subs'
// temperatures fit together; beside subs at one temperature those of that alone do.
func TestDarksThatDriftWithTheSubs(t *testing.T) {
	t.Parallel()
	c := covered(51)
	for _, celsius := range []float64{2, 4, 8} {
		for range 3 {
			c.frame(frames.Dark, 60, celsius, 0)
		}
	}
	for _, f := range c.made {
		f.Meta.SetTemp = math.NaN()
	}
	sub := func(target names.Name, celsius float64) {
		c.light(func(m *frames.Meta) { m.Target, m.SensorTemp, m.SetTemp = target, celsius, math.NaN() })
	}
	for _, celsius := range []float64{-1, 0, 1, 3, 5} {
		sub("drifting", celsius)
		sub("held", celsius/10)
	}
	for _, cov := range c.analyse(t).Coverage {
		want := map[names.Name]int{"drifting": 5 + 3 + 3, "held": 5}[cov.Lights.Target]
		if m := cov.Dark; !m.Fits || m.Count != want {
			t.Errorf("%s: %d darks fit, %d of them beside; want %d", cov.Lights.Target, m.Count, m.Beside, want)
		}
	}
}

// What subs show of the sensor is looked at with the bias in place of the dark, whose level above
// it is the dark signal; without a bias there is no such look.
func TestWithoutDark(t *testing.T) {
	t.Parallel()
	c := covered(52)
	c.light(func(*frames.Meta) {})
	r := c.analyse(t)
	lights := r.Coverage[0].Lights
	if !r.For(lights).DarkTaken {
		t.Fatal("no dark is taken off")
	}
	bare, above, ok := r.WithoutDark(lights)
	if !ok || bare.DarkTaken || !bare.HasOffset || !bare.Flattened {
		t.Fatalf("%v, dark taken %v, offset %v, flat %v", ok, bare.DarkTaken, bare.HasOffset, bare.Flattened)
	}
	// 0.05 e-/s in 60 s at 0.5 e-/ADU; medians of 7680 pixels of six and five frames of 6 ADU of noise.
	if want := c.dark * 60 / c.gain; !(math.Abs(above-want) <= 0.3) {
		t.Errorf("the dark lies %.2f ADU above the bias, want %.2f", above, want)
	}
	if level := stats.Median(bare.Planes().Subtract.Pixels()); !(math.Abs(level-c.offset) <= 0.3) {
		t.Errorf("%.2f ADU are taken off, the offset is %g", level, c.offset)
	}
	c = &simCamera{w: 96, h: 80, gain: 0.5, step: 1, offset: 1000, read: 3, dark: 0.05}
	c.init(53)
	c.frames(5, frames.Dark, 60, 0, 0)
	c.light(func(m *frames.Meta) { m.Rotator = math.NaN() })
	r = c.analyse(t)
	if _, _, ok := r.WithoutDark(r.Coverage[0].Lights); ok {
		t.Error("darks without bias frames let subs be looked at without them")
	}
}
