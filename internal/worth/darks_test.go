package worth

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// stack is the mean of n simulated subs minus the mean of m darks (none for
// m = 0), in electrons and with sky and offset taken off as known: what is left
// is noise and pattern. Dithered subs are registered on the stars, so that the
// sensor's pattern comes in shifted.
func (c *simCamera) stack(n, m int, seconds, sky float64, dithered bool) []float64 {
	pixels := c.w * c.h
	master := make([]float64, pixels)
	expose := func(light float64) []float64 {
		e := make([]float64, pixels)
		for i := range e {
			e[i] = c.charge(i, seconds, light)
		}
		return e
	}
	for range m {
		for i, e := range expose(0) {
			master[i] += e / float64(m)
		}
	}
	sum, weight := make([]float64, pixels), make([]float64, pixels)
	for k := range n {
		dx, dy := 0, 0
		if dithered { // no two subs at or next to the same place
			dx, dy = 4*(k%5), 4*(k/5)
		}
		for i, e := range expose(sky * seconds) {
			if dithered && c.hot[i] {
				continue
			}
			x, y := (i%c.w+dx)%c.w, (i/c.w+dy)%c.h
			sum[y*c.w+x] += e - master[i] - sky*seconds
			weight[y*c.w+x]++
		}
	}
	for i := range sum {
		sum[i] /= weight[i]
	}
	return sum
}

// margin is the edge that dithered stacks lose, px; shifts go up to twice it.
const margin = 12

// noiseOf is the spread of a stack apart from hot pixels and from glow, which
// is smooth: of the differences of neighbours.
func (c *simCamera) noiseOf(stack []float64) float64 {
	var d []float64
	for y := 2 * margin; y < c.h; y++ {
		for x := 2*margin + 1; x < c.w; x++ {
			d = append(d, stack[y*c.w+x]-stack[y*c.w+x-1])
		}
	}
	return stats.SigmaClip(d, 5, 50).SD / math.Sqrt2
}

// Whole stacks, simulated with and without darks, have the noise that the
// budget predicts from the measured camera, and the verdict that it says.
func TestDarksWorthAgainstSimulatedStacks(t *testing.T) {
	for _, test := range []struct {
		name         string
		c            simCamera
		seconds, sky float64
		verdict      string // with dither
		still        string // without
	}{
		{"low-dark sensor", simCamera{gain: 0.25, offset: 1000, read: 1.5, dark: 0.002, warm: 0.0003, hotShare: 2e-4, hotMin: 0.3},
			300, 0.5, "not worth it", "a defect map is enough"},
		{"warm CCD", simCamera{gain: 1.2, offset: 1000, read: 8, dark: 0.3, warm: 0.08, hotShare: 0.005, hotMin: 4},
			600, 0.4, "worth it", "worth it"},
		{"glowing sensor", simCamera{gain: 0.25, offset: 1000, read: 1.8, dark: 0.01, warm: 0.001, glow: 1},
			300, 0.3, "worth it", "worth it"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			c := test.c
			c.w, c.h = 224, 224
			c.init(11)
			c.frames(30, frames.Bias, 0, 0)
			c.frames(30, frames.Dark, test.seconds, 0)
			c.frames(6, frames.Flat, 5, 25000*c.gain)
			r := c.analyse(t)
			lights := &frames.Group{Kind: frames.Light, Camera: "Invented Mono 1", Width: c.w, Height: c.h, BinX: 1, BinY: 1,
				GainSetting: 100, OffsetSetting: 30, Exposure: test.seconds, Frames: []*frames.Frame{c.made[0]}}
			applied := r.For(lights)
			const subs, darks = 25, 20
			in := Input{Label: test.name, Subs: subs, Exposure: test.seconds, SkyRate: stats.Known(test.sky, 0, subs),
				ReadNoise: applied.ReadNoise, DarkRate: applied.DarkRate, Dark: r.DarkSetFor(lights), DitherPx: math.NaN()}
			w := OfDarks(in)
			if w.Verdict == "" {
				t.Fatal(w.Why)
			}
			for _, dithered := range []bool{false, true} {
				predicted := w.find(t, darks, dithered).Total / w.find(t, 0, dithered).Total
				measured := c.noiseOf(c.stack(subs, darks, test.seconds, test.sky, dithered)) / c.noiseOf(c.stack(subs, 0, test.seconds, test.sky, dithered))
				t.Logf("dithered %v: noise with %d darks over without: predicted %.4f, simulated %.4f", dithered, darks, predicted, measured)
				// 50000 differences of neighbours give each noise to 0.4 %, the ratio to 0.6 %.
				if math.Abs(measured/predicted-1) > 0.02 {
					t.Errorf("dithered %v: predicted ratio %.4f, simulated %.4f", dithered, predicted, measured)
				}
			}
			for _, c := range []struct {
				px   float64
				want string
			}{{5, test.verdict}, {0.2, test.still}} {
				in.DitherPx = c.px
				w := OfDarks(in)
				t.Log(w.Sentence)
				if w.Darks > 0 && w.Verdict != fmt.Sprintf("worth it: %d frames", w.Darks) || w.Darks == 0 && strings.HasPrefix(w.Verdict, "worth it") {
					t.Errorf("%d darks, %q", w.Darks, w.Verdict)
				}
				if !strings.HasPrefix(w.Verdict, c.want) {
					t.Errorf("dither %g px: %q, want %q (benefit %.2f %%)", c.px, w.Verdict, c.want, w.BenefitPct.V)
				}
			}
		})
	}
}

func (w *Answer) find(t *testing.T, darks int, dithered bool) Case {
	t.Helper()
	for _, c := range w.Cases {
		if c.Darks == darks && c.Dithered == dithered {
			return c
		}
	}
	t.Fatalf("no case of %d darks, dithered %v", darks, dithered)
	return Case{}
}

// Common practice, no source: a modern low-dark sensor, 300 s at 0 °C, shows
// practically no hot pixels, and darks change nothing.
func TestDarksChangeNothingForModernSensor(t *testing.T) {
	dark := fakeDark(300, map[string]float64{"dark_current_e_per_s": 0.002, "warm_nonuniformity_e_per_s": 0.0003, "hot_pixels": 0})
	w := OfDarks(Input{Label: "modern", Subs: 60, Exposure: 300, SkyRate: stats.Known(0.5, 0.01, 60), ReadNoise: stats.Known(1.5, 0.01, 20),
		DarkRate: stats.Known(0.002, 0.0001, 20), Dark: dark, DitherPx: 6})
	if w.Verdict != "not worth it" || math.Abs(w.BenefitPct.V) > 1.5 {
		t.Errorf("%q, benefit %.2f %%", w.Verdict, w.BenefitPct.V)
	}
}

// add gives a set a figure.
func add(s *calib.Set, name string, v stats.Value) {
	s.Metrics = append(s.Metrics, calib.Metric{Name: name, Value: v})
}

// fakeDark is a dark set with figures as given.
func fakeDark(exposure float64, figures map[string]float64) *calib.Set {
	s := &calib.Set{Label: "dark", Kind: "dark", Group: &frames.Group{Kind: frames.Dark, Exposure: exposure, Frames: make([]*frames.Frame, 20)}, Dark: &calib.DarkDetail{}}
	for name, v := range figures {
		add(s, name, stats.Known(v, 0, 20))
	}
	return s
}

// With M identical darks and subs, a calibrated sub is sqrt(1+1/M) noisier:
// the factors of a mean master (identity; the design's reference notes list
// them to six digits).
func TestMasterNoiseFactor(t *testing.T) {
	s := sensor{read: 3, dark: 0.02}
	for m, want := range map[int]float64{1: 1.414214, 5: 1.095445, 10: 1.048809, 20: 1.024695, 50: 1.009950, 100: 1.004988} {
		got := s.budget(0, 300, 1, m, false).Total / s.budget(0, 300, 1, 0, false).Total
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%d darks: %.6f, want %.6f", m, got, want)
		}
	}
}

// At the break-even exposure darks neither raise nor lower the noise, dithered or not.
func TestBreakEven(t *testing.T) {
	s := sensor{read: 1.6, dark: 0.01, pattern: 0.002}
	for _, m := range darkCounts {
		at := s.breakEven(m)
		for _, dithered := range []bool{false, true} {
			none, with := s.budget(0.3, at, 30, 0, dithered), s.budget(0.3, at, 30, m, dithered)
			if math.Abs(with.Total/none.Total-1) > 1e-12 {
				t.Errorf("%d darks at %.1f s: %g and %g", m, at, none.Total, with.Total)
			}
		}
	}
}

func TestWorthSaysWhatIsLacking(t *testing.T) {
	full := Input{Label: "x", Subs: 10, Exposure: 300, SkyRate: stats.Known(1, 0, 1), ReadNoise: stats.Known(2, 0, 1),
		DarkRate: stats.Known(0.01, 0, 1), Dark: fakeDark(300, map[string]float64{"warm_nonuniformity_e_per_s": 0.001})}
	for _, c := range []struct {
		lacks string
		take  func(*Input)
	}{
		{"no darks", func(in *Input) { in.Dark = nil }},
		{"read noise", func(in *Input) { in.ReadNoise = stats.Missing("one bias frame") }},
		{"sky", func(in *Input) { in.SkyRate = stats.Missing("no offset") }},
		{"exposure", func(in *Input) { in.Exposure = math.NaN() }},
		{"no subs", func(in *Input) { in.Subs = 0 }},
	} {
		in := full
		c.take(&in)
		w := OfDarks(in)
		if w.Verdict != "" || !strings.Contains(w.Why, c.lacks) || w.BenefitPct.OK() {
			t.Errorf("%s: %+v", c.lacks, w)
		}
	}
	in := full
	in.DarkRate = stats.Missing("the offset moves")
	if w := OfDarks(in); w.Verdict == "" || !strings.Contains(w.Sentence, "dark current taken as none") {
		t.Errorf("without a dark current: %+v", w)
	}
}

// Of two cameras each hears of the benefit for its own subs alone; one whose
// subs could not be weighed hears why.
func TestBenefitGoesToItsCamera(t *testing.T) {
	camera := func(name names.Name, gain float64) *calib.Set {
		s := &calib.Set{Kind: "camera", Summary: &calib.CameraDetail{Mode: calib.Mode{Camera: name, BinX: 1, BinY: 1, GainSetting: gain}}}
		add(s, "dark_benefit_pct", stats.Missing("no subs"))
		return s
	}
	mono, colour, idle := camera("Invented Mono 1", math.NaN()), camera("Invented Colour 2", 100), camera("Invented Colour 2", 0)
	answer := func(of *calib.Set, label string, benefit float64) Answer {
		return Answer{Label: label, Camera: of.Summary.Mode, BenefitPct: stats.Known(benefit, 0.1, 9)}
	}
	NoteBenefits([]*calib.Set{mono, colour, idle}, []Answer{answer(mono, "L", 1), answer(mono, "Ha", 7), answer(colour, "OSC", -2)})
	for _, c := range []struct {
		of   *calib.Set
		want float64
		note string
	}{{mono, 7, "Ha"}, {colour, -2, "OSC"}} {
		if m := c.of.Metrics[0]; m.Value.V != c.want || m.Note != c.note {
			t.Errorf("%s: %+v, want %g for %s", c.of.Summary.Mode.Camera, m, c.want, c.note)
		}
	}
	if v := idle.Metric("dark_benefit_pct"); v.OK() {
		t.Errorf("a camera without subs has a benefit of %g", v.V)
	}
}

// A thousand-frame master bias can be seen to buy nothing.
func TestBiasWorth(t *testing.T) {
	bias := &calib.Set{Label: "bias", Kind: "bias", Group: &frames.Group{Frames: make([]*frames.Frame, 100)}}
	add(bias, "read_noise_adu", stats.Known(6, 0, 100))
	add(bias, "fixed_pattern_adu", stats.Known(2, 0, 100))
	in := Input{Label: "x", Subs: 40, Exposure: 300, SkyRate: stats.Known(0.5, 0, 40), ReadNoise: stats.Known(1.5, 0, 100), DarkRate: stats.Known(0.002, 0, 20), Bias: bias, DitherPx: 5}
	w := OfBias(in)
	// sqrt(0.502·300+2.25)/sqrt(40) = 1.9557 e- of stack; 1.5/sqrt(100·40) = 0.0237 e- of master.
	c := w.Cases[len(calib.MasterCounts)+1+4]
	if c.N != 100 || !c.Dithered || math.Abs(c.Stack-1.9557) > 1e-3 || math.Abs(c.Added-0.02372) > 1e-4 {
		t.Errorf("%+v", c)
	}
	if w.Verdict != "enough" || !strings.Contains(w.Sentence, "of 1000") {
		t.Errorf("%+v", w)
	}
	if w.Cases[0].N != 0 || math.Abs(w.Cases[0].Added-0.5) > 1e-12 { // 2 ADU of 0.25 e-
		t.Errorf("without bias: %+v", w.Cases[0])
	}
	in.DarkFits = true
	if w := OfBias(in); w.Verdict != "not needed" {
		t.Errorf("%+v", w)
	}
}

func TestFlatsWorth(t *testing.T) {
	flat := &calib.Set{Label: "flat", Kind: "flat", Group: &frames.Group{Frames: make([]*frames.Frame, 4)}}
	add(flat, "master_snr", stats.Known(200, 0, 4))
	add(flat, "prnu_pct", stats.Known(1, 0, 4))
	in := Input{Label: "x", Subs: 50, Exposure: 300, SkyRate: stats.Known(20, 0, 40), ReadNoise: stats.Known(1.5, 0, 100), Flat: flat, DitherPx: 0}
	w := OfFlats(in)
	// 6000 e- of sky over 200 is 30 e- against sqrt(6002.25/50) = 10.96 e-.
	if w.Verdict != "more would help" {
		t.Errorf("%+v", w)
	}
	in.DitherPx = 10 // 30/sqrt(50) = 4.24 e-: 7.2 %
	if w := OfFlats(in); w.Verdict != "more would help" || math.Abs(w.Cases[len(flatCounts)+1].Added-60/math.Sqrt(50)) > 1e-9 {
		t.Errorf("%+v", w)
	}
	in.Flat.Metrics[0].Value = stats.Known(1000, 0, 100)
	if w := OfFlats(in); w.Verdict != "enough" {
		t.Errorf("%+v", w)
	}
}

func ExampleOfDarks() {
	dark := fakeDark(300, map[string]float64{"dark_current_e_per_s": 0.01, "warm_nonuniformity_e_per_s": 0.004, "hot_pixels": 1200})
	w := OfDarks(Input{Label: "Ha 300 s", Subs: 40, Exposure: 300, SkyRate: stats.Known(0.05, 0.01, 40), ReadNoise: stats.Known(1.5, 0.01, 20),
		DarkRate: stats.Known(0.01, 0.001, 20), Dark: dark, DitherPx: 0})
	fmt.Println(w.Sentence)
	// Output:
	// worth it: 50 frames: 50 darks would lower the stack's noise by 44.0 % without dither and take 4.2 h; 1200 hot pixels need a defect map otherwise; darks lower the noise from subs of 60 s on
}
