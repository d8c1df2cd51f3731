package calib_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"fitsqa/internal/demo/habit"
	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
)

// combined writes the mean of so many frames of a shot, rounded to whole numbers, as
// one frame that nothing names.
func (b *bench) combined(of int, seed uint64, s habit.Shot) {
	b.t.Helper()
	dir := b.t.TempDir()
	raw := habit.New(b.Camera, b.t.TempDir(), seed)                                // the same pixels
	if _, err := raw.Series(1, habit.Shot{Kind: "Light", Light: 60}); err != nil { // other noise
		b.t.Fatal(err)
	}
	raw.Dir = dir
	paths, err := raw.Series(of, s)
	if err != nil {
		b.t.Fatal(err)
	}
	mean := make([]float32, b.W*b.H)
	scan, err := frames.Scan(b.t.Context(), []string{filepath.Dir(paths[0])}, frames.DefaultScanOptions)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, f := range scan {
		var im frames.Image
		if err := f.Read(&im); err != nil {
			b.t.Fatal(err)
		}
		for i, v := range im.Float32(0, nil) {
			mean[i] += v / float32(of)
		}
	}
	for i, v := range mean {
		mean[i] = float32(math.Round(float64(v)))
	}
	if _, err := b.Master(s.Kind+"_001.fits", mean, s); err != nil {
		b.t.Fatal(err)
	}
}

// A single bias frame that nothing names: a master where other frames tell that a raw
// one has more noise, raw where it has as much, else neither; a raw one never a master.
func TestLoneBias(t *testing.T) {
	t.Parallel()
	for _, of := range []int{1, 6, 30} {
		if testing.Short() && of != 6 {
			continue
		}
		for name, v := range map[string]struct {
			darks  []float64 // s
			shaded bool
			claims float64 // e-/ADU
			known  bool
		}{
			"nothing":               {nil, false, 0, false},
			"one exposure":          {[]float64{300}, false, 0, false},
			"darks":                 {[]float64{100, 400}, false, 0, true},
			"black level taken off": {[]float64{100, 400}, true, 0, true},
		} {
			c, seed := plainCamera(), uint64(60+of)
			c.W, c.H = 192, 160
			c.Shaded, c.Claims = v.shaded, v.claims
			b := newBench(t, c, seed)
			b.combined(of, seed, habit.Shot{Kind: "Bias"})
			for _, s := range v.darks {
				b.darks(4, s, 0)
			}
			b.shoot(1, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: 500})
			r := b.analyse()
			words, count := "whether raw or a master is not known", -1
			if v.known && of == 1 {
				words, count = "1 bias frame fits", 1
			} else if v.known {
				words = "a master bias (of how many frames is not known)"
			}
			got := r.Coverage[0].Bias
			if !strings.Contains(say.Fit(&got.Fit), words) || got.Count != count {
				t.Errorf("%s, of %d: %q, %d frames behind it; want %q", name, of, say.Fit(&got.Fit), got.Count, words)
			}
			bias := set(t, r, "bias")
			agrees(t, bias, "offset_adu", c.Offset, 0.001)
			if of > 1 || !v.known {
				withheld(t, bias, "read_noise_adu", "one frame")
			}
			if len(v.darks) > 1 && !v.shaded {
				long := set(t, r, "dark 400 s")
				agrees(t, long, "dark_current_adu_per_s", c.Dark/c.Gain, 0.05)
				if of > 1 {
					withheld(t, long, "warm_nonuniformity_e_per_s", "combined from several")
				}
			}
		}
	}
}

// A single flat that nothing names: a master where the gain tells that a raw one has
// more shot noise; a raw one never is.
func TestLoneFlat(t *testing.T) {
	t.Parallel()
	for _, of := range []int{1, 8, 30} {
		if testing.Short() && of != 8 {
			continue
		}
		for name, v := range map[string]struct {
			bias  int
			claim float64 // of the header, over the truth
			other bool    // flats of another filter tell the gain
			known bool
		}{
			"no gain":               {6, 0, false, false},
			"other filter":          {6, 0, true, true},
			"header":                {6, 1, false, of > 20},
			"header, of other bits": {6, 0.25, false, of > 4},
			"header, too many bits": {6, 4, false, false},
			"header, no bias":       {0, 1, false, false},
		} {
			c, seed := plainCamera(), uint64(60+of)
			c.W, c.H = 192, 160
			c.Claims = v.claim * c.Gain
			if !v.other {
				c.PRNU = 0.001 // else it hides what noise there is
			}
			b := newBench(t, c, seed)
			b.bias(v.bias)
			b.combined(of, seed, habit.Shot{Kind: "Flat", Exposure: 2, Filter: "L", Light: 25000, Unsteady: 0.003})
			if v.other {
				b.shoot(4, habit.Shot{Kind: "Flat", Exposure: 2, Filter: "R", Light: 20000, Unsteady: 0.003})
			}
			b.shoot(1, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: 500})
			r := b.analyse()
			words, count := "whether raw or a master is not known", -1
			if v.known && of > 1 {
				words = "a master flat (of how many frames is not known)"
			} else if v.known {
				words, count = "1 flat fits", 1
			}
			if got := r.Coverage[0].Flat; !strings.Contains(say.Fit(&got.Fit), words) || got.Count != count {
				t.Errorf("%s, of %d: %q, %d frames behind it; want %q", name, of, say.Fit(&got.Fit), got.Count, words)
			}
			var flat *sensor.Set
			for _, s := range r.Sets {
				if s.Kind == "flat" && s.Group.Filter == "L" {
					flat = s
				}
			}
			withheld(t, flat, "prnu_pct", "one f")
			withheld(t, flat, "master_snr", "one f")
		}
	}
}

// Without bias frames a master dark is held against the subs: one that lacks the
// camera's offset is refused, under any sky, where a gain tells their light; without
// it one far under them; a whole one is used.
func TestMasterDarkWithoutBias(t *testing.T) {
	t.Parallel()
	for name, v := range map[string]struct {
		level, noise float64 // ADU
		light, claim float64 // e-; of the header, over the truth
		why          string
	}{
		"whole":                      {1018, 0.5, 100, 1, ""},
		"whole, bright sky":          {1018, 0.5, 20000, 1, ""},
		"whole, a claim too low":     {1018, 0.5, 20000, 0.25, ""},
		"whole, no gain":             {1018, 0.5, 4000, 0, ""},
		"bias off":                   {18, 0.5, 100, 1, "a bias was taken off"},
		"a second":                   {18. / 300, 0.004, 60, 1, "divided by the exposure"},
		"a second, the offset in it": {1018. / 300, 0.2, 60, 1, "divided by the exposure"},
		"a second, no gain":          {1018. / 300, 0.2, 4000, 0, "nothing tells"},
	} {
		c := plainCamera()
		c.W, c.H, c.Claims = 192, 160, v.claim*c.Gain
		b := newBench(t, c, 90)
		if _, err := b.Master("long.fits", level(c, v.level, v.noise), habit.Shot{Kind: "Dark", Exposure: 300}); err != nil {
			t.Fatal(err)
		}
		b.shoot(1, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: v.light, Stars: 40})
		r := b.analyse()
		got := r.Coverage[0]
		calibration := r.For(got.Lights)
		if taken := calibration.Planes().Subtract.Pixels(); (taken != nil) != (v.why == "") || !strings.Contains(say.Fit(&got.Dark.Fit), v.why) {
			t.Errorf("%s: %q, taken off: %v", name, say.Fit(&got.Dark.Fit), taken != nil)
		}
	}
}

// Single raw frames most of whose samples are cut at 0 show little noise, and are no
// masters.
func TestLoneFramesCutAtZero(t *testing.T) {
	t.Parallel()
	for _, lone := range []string{"Bias", "Dark"} {
		c := plainCamera()
		c.W, c.H, c.Offset, c.Shaded = 192, 160, -1, true
		b := newBench(t, c, 95)
		if lone == "Bias" {
			b.bias(1)
			b.darks(4, 100, 0)
			b.darks(4, 400, 0)
		} else {
			c.Offset = 1000
			raw := habit.New(c, b.Dir, 95)
			if _, err := raw.Series(6, habit.Shot{Kind: "Bias"}); err != nil {
				t.Fatal(err)
			}
			b.darks(1, 2, 0)
		}
		b.shoot(1, habit.Shot{Kind: "Light", Exposure: 2, Filter: "L", Light: 500})
		got := b.analyse().Coverage[0]
		if words := say.Fit(&got.Bias.Fit) + say.Fit(&got.Dark.Fit); strings.Contains(words, "a master bias") || strings.Contains(words, "a master dark") {
			t.Errorf("%s: %q", lone, words)
		}
	}
}
