package calib_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
)

// meanOf is the mean of frames of a series of the bench's camera, which leave its folder.
func (b *bench) meanOf(n int, s habit.Shot) []float32 {
	b.t.Helper()
	own := b.Dir
	dir := b.t.TempDir()
	b.Dir = dir
	b.shoot(n, s)
	b.Dir = own
	mean := make([]float32, b.W*b.H)
	scan, err := frames.Scan(b.t.Context(), []string{dir}, frames.DefaultScanOptions)
	if err != nil || len(scan) != n {
		b.t.Fatal(err, len(scan))
	}
	for _, f := range scan {
		var im frames.Image
		if err := f.Read(&im); err != nil {
			b.t.Fatal(err)
		}
		for i, v := range im.Float32(0, nil) {
			mean[i] += v / float32(n)
		}
	}
	return mean
}

// Raw darks and flats beside masters of a library: what they lack is taken from these, and
// figures are those of the truth, whether the masters' frames are counted or not.
func TestMastersLentToFrames(t *testing.T) {
	t.Parallel()
	bias, short := habit.Shot{Kind: "Bias"}, habit.Shot{Kind: "Dark", Exposure: 2}
	long := habit.Shot{Kind: "Dark", Exposure: 100}
	for _, test := range []struct {
		name    string
		master  habit.Shot
		counted bool
		darks   bool
		from    string
	}{
		{"bias", bias, true, true, "offset_of_master_bias()"},
		{"bias of unknown number", bias, false, true, "offset_of_master_bias()"},
		{"flat-dark", short, false, false, "offset_of_flat_dark()"},
		{"dark alone", long, false, false, "offset_of_master_dark(exposure_s=100)"},
	} {
		if testing.Short() && test.counted == test.darks {
			continue
		}
		c := plainCamera()
		c.W, c.H, c.Vignette = 256, 192, 0.3
		b := newBench(t, c, 81)
		if test.counted {
			test.master.Cards = append(test.master.Cards, fitsio.Card{Name: "NCOMBINE", Value: 16})
		}
		if _, err := b.Master("master.fits", b.meanOf(16, test.master), test.master); err != nil {
			t.Fatal(err)
		}
		if test.darks {
			b.darks(8, 200, 0)
		}
		b.flats(6, 25000)
		r := b.analyse()
		flat := set(t, r, "flat")
		agrees(t, flat, "gain_e_per_adu", c.Gain, 0.01)
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.03)
		agrees(t, flat, "corner_falloff_pct", corner(c), 0.01)
		if from := fmt.Sprint(flat.Figure("gain_e_per_adu").Note); from != fmt.Sprintf("[%s(offset_from=%s)]", sensor.GainByFlats, test.from) {
			t.Errorf("%s: %s, want %s", test.name, from, test.from)
		}
		for _, w := range flat.Warnings {
			if w.Code == sensor.FlatsNoOffset {
				t.Errorf("%s: %v", test.name, w)
			}
		}
		if test.darks {
			dark := set(t, r, "dark 200 s")
			agrees(t, dark, "dark_current_e_per_s", c.Dark, 0.03)
			agrees(t, dark, "warm_nonuniformity_e_per_s", c.Warm, 0.25) // all that the master's pixels differ by is taken for noise, pattern too
			agrees(t, set(t, r, "camera"), "read_noise_e", c.Read, 0.01)
		}
	}
}

// Sums of two and three under a bright sky are told by their hot pixels, a bias also by raw
// darks; a mean of a warm sensor, whose level is that of two, is none.
func TestSmallSumsUnderBrightSky(t *testing.T) {
	t.Parallel()
	dark, bias := habit.Shot{Kind: "Dark", Exposure: 100}, habit.Shot{Kind: "Bias"}
	for _, test := range []struct {
		name    string
		of      habit.Shot
		n       int
		sum     bool
		warm    float64 // e-/s of dark current
		biases  int
		rawDark int
	}{
		{"sum of two", dark, 2, true, 0.05, 6, 0},
		{"sum of three, no bias", dark, 3, true, 0.05, 0, 0},
		{"mean of three", dark, 3, false, 0.05, 6, 0},
		{"warm mean of two", dark, 2, false, 8, 6, 0},
		{"bias of three", bias, 3, true, 0.05, 0, 3},
	} {
		if testing.Short() && test.n != 3 {
			continue
		}
		c := plainCamera()
		c.W, c.H, c.Hot, c.Dark = 256, 192, 0.002, test.warm
		b := newBench(t, c, 91)
		m := b.meanOf(test.n, test.of)
		want := float64(m[100])
		if test.sum {
			for i := range m {
				m[i] *= float32(test.n)
			}
		}
		test.of.Cards = []fitsio.Card{{Name: "NCOMBINE", Value: test.n}}
		if _, err := b.Master("master.fits", m, test.of); err != nil {
			t.Fatal(err)
		}
		b.bias(test.biases)
		if test.rawDark > 0 {
			b.darks(test.rawDark, 100, -20) // too cold for the subs
		}
		b.shoot(2, habit.Shot{Kind: "Light", Exposure: 100, Filter: "L", Light: 4000, Stars: 30})
		r := b.analyse()
		k := r.For(r.Coverage[0].Lights)
		taken := k.Planes().Subtract.Pixels()
		if taken == nil || !(math.Abs(float64(taken[100])-want) <= 1) {
			t.Errorf("%s: %v taken off, want %.0f", test.name, taken[:min(1, len(taken))], want)
		}
	}
}

// A header's e-/ADU of a camera whose samples come in steps may be for a step: that is
// said where no flats measure the gain, and put right where subs tell.
func TestHeaderGainOfSteps(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		step, claims float64 // ADU, e-/ADU
		subs         int
		light        float64 // e-
		warns        fact.Code
		gain         float64
	}{
		{1, 0.8, 0, 0, "", 0.8},
		{4, 0.8, 0, 0, sensor.HeaderGainSteps, 0.8},
		{1, 0.8, 2, 900, "", 0.8},
		{4, 0.8, 2, 900, "", 0.8},                          // for an ADU
		{4, 3.2, 2, 900, sensor.HeaderGainOfStep, 0.8},     // for a step
		{16, 12.8, 2, 20000, sensor.HeaderGainOfStep, 0.8}, // under a bright sky, whose pixels respond unevenly
		{4, 8, 2, 900, sensor.HeaderGainSteps, 8},          // for neither
		{4, 3.2, 1, 900, sensor.HeaderGainSteps, 3.2},
	} {
		c := plainCamera()
		c.W, c.H, c.Gain, c.Step, c.Claims, c.PRNU = 200, 160, 0.8, test.step, test.claims, 0.01
		b := newBench(t, c, 97)
		b.bias(4)
		if test.subs > 0 {
			b.shoot(test.subs, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: test.light, Stars: 30})
		}
		camera := set(t, b.analyse(), "camera")
		var got fact.Code
		for _, w := range camera.Warnings {
			if w.Code == sensor.HeaderGainSteps || w.Code == sensor.HeaderGainOfStep {
				got = w.Code
			}
		}
		if v := camera.Figure("gain_e_per_adu").Value; got != test.warns || !(math.Abs(v.V-test.gain) <= 1e-9) {
			t.Errorf("%+v: warned %q, gain %v", test, got, v)
		}
	}
}
