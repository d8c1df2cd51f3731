package calib_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/astrogo/fitsio"

	"fitsqa/internal/calib"
	"fitsqa/internal/demo/habit"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// plainCamera is a quiet 16-bit camera without any habit.
func plainCamera() habit.Camera {
	return habit.Camera{W: 240, H: 192, Gain: 0.8, Offset: 1000, Read: 3, Pattern: 0.8, PRNU: 0.006,
		Dark: 0.05, Doubling: 6.5, Warm: 0.006, Vignette: 0.15}
}

// bench is a folder of frames and what calib makes of it.
type bench struct {
	*habit.Set
	t *testing.T
}

func newBench(t *testing.T, c habit.Camera, seed uint64) *bench {
	return &bench{habit.New(c, t.TempDir(), seed), t}
}

func (b *bench) shoot(n int, s habit.Shot) []string {
	b.t.Helper()
	paths, err := b.Series(n, s)
	if err != nil {
		b.t.Fatal(err)
	}
	return paths
}

func (b *bench) bias(n int) { b.shoot(n, habit.Shot{Kind: "Bias"}) }

func (b *bench) darks(n int, seconds, celsius float64) {
	b.shoot(n, habit.Shot{Kind: "Dark", Exposure: seconds, SetC: celsius})
}

// flats of so many electrons in the middle.
func (b *bench) flats(n int, light float64) {
	b.shoot(n, habit.Shot{Kind: "Flat", Exposure: 2, Filter: "L", Light: light, Unsteady: 0.003})
}

func (b *bench) analyse(change ...func(*calib.Options)) *calib.Result {
	b.t.Helper()
	fs, err := frames.Scan(context.Background(), []string{b.Dir}, frames.DefaultScanOptions)
	if err != nil {
		b.t.Fatal(err)
	}
	opt := calib.DefaultOptions
	for _, f := range change {
		f(&opt)
	}
	r, err := calib.Analyse(context.Background(), frames.Sort(fs), opt)
	if err != nil {
		b.t.Fatal(err)
	}
	if testing.Verbose() {
		show(b.t, r)
	}
	return r
}

// show logs all figures.
func show(t *testing.T, r *calib.Result) {
	t.Helper()
	for _, s := range r.Sets {
		t.Logf("--- %s", s.Label)
		for _, m := range s.Metrics() {
			t.Logf("%-30s %.5g ± %.2g %v (%d) %v%v", m.Name, m.Value.V, m.Value.Err, m.Unit, m.Value.N, say.Note(m.Note), m.Value.Why)
		}
		for _, w := range say.SetWarnings(s) {
			t.Log("! ", w)
		}
	}
}

// set is the only set whose label begins so.
func set(t *testing.T, r *calib.Result, label string) *sensor.Set {
	t.Helper()
	var found *sensor.Set
	for _, s := range r.Sets {
		if strings.HasPrefix(s.Label, label) {
			if found != nil {
				t.Fatalf("%s and %s", found.Label, s.Label)
			}
			found = s
		}
	}
	if found == nil {
		t.Fatalf("no set %s", label)
	}
	return found
}

// agrees checks a figure against the truth: within tol of it, as a share.
func agrees(t *testing.T, s *sensor.Set, metric string, truth, tol float64) {
	t.Helper()
	v := s.Figure(metric).Value
	if !v.OK() {
		t.Errorf("%v: %v: %v", s.Label, metric, v.Why)
	} else if !(math.Abs(v.V-truth) <= tol*math.Abs(truth)) {
		t.Errorf("%s: %s = %.5g ± %.2g, truth %.5g ± %.2g %%", s.Label, metric, v.V, v.Err, truth, 100*tol)
	}
}

// withheld checks that a figure is not given, and the reason why.
func withheld(t *testing.T, s *sensor.Set, metric, why string) {
	t.Helper()
	if v := s.Figure(metric).Value; v.OK() || !strings.Contains(say.Fact(v.Why), why) {
		t.Errorf("%v: %v = %.5g ± %.2g %v, want none: %v", s.Label, metric, v.V, v.Err, v.Why, why)
	}
}

// warns checks that a set warns in words that hold all of these.
func warns(t *testing.T, s *sensor.Set, words ...string) {
	t.Helper()
	for _, w := range say.SetWarnings(s) {
		all := true
		for _, x := range words {
			all = all && strings.Contains(w, x)
		}
		if all {
			return
		}
	}
	t.Errorf("%s: no warning with %q: %q", s.Label, words, say.SetWarnings(s))
}

// A read-out whose odd rows differ from the even ones by another amount in every
// flat, and rows with a level of their own.
func TestFlatsWhoseRowsAlternate(t *testing.T) {
	t.Parallel()
	for _, by := range []float64{0, 0.002, 0.01, 0.045, 0.1} {
		if testing.Short() && by > 0 && by < 0.1 {
			continue
		}
		c := plainCamera()
		c.Alternate, c.RowNoise = by, 2
		b := newBench(t, c, uint64(1000*by))
		b.bias(8)
		b.flats(8, 25000)
		r := b.analyse()
		flat := set(t, r, "flat")
		// 7 pairs of 80 blocks of 900 degrees of freedom: 0.2 %.
		agrees(t, flat, "gain_e_per_adu", c.Gain, 0.01)
		agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.03)
		// The mean of 8 frames of 25000 e-, less 5 % by the falloff.
		agrees(t, flat, "master_snr", math.Sqrt(8*25000*0.95), 0.03)
		if by >= 0.01 {
			warns(t, flat, "alternate rows differ by")
		}
	}
}

// Samples of 10, 12 and 14 bits stored as they are: saturation is seen where stars
// or flats are cut, and not guessed where nothing is.
func TestSaturationOfUnscaledSamples(t *testing.T) {
	t.Parallel()
	for _, top := range []float64{1023, 4095, 16383} {
		if testing.Short() && top > 4000 {
			break
		}
		c := plainCamera()
		c.Top, c.Offset, c.Gain, c.Read, c.Pattern = top, 60, 16000/top, 4*16000/top, 0.2
		flat := 0.4 * (top - 60) * c.Gain
		light := habit.Shot{Kind: "Light", Exposure: 60, Filter: "L", Light: 2000}
		for name, stars := range map[string]int{"stars": 60, "no stars": 0} {
			b := newBench(t, c, 7)
			b.bias(6)
			b.flats(6, flat)
			light.Stars = stars
			b.shoot(3, light)
			r := b.analyse()
			camera, f := set(t, r, "camera"), set(t, r, "flat")
			agrees(t, camera, "gain_e_per_adu", c.Gain, 0.01)
			if name == "stars" {
				agrees(t, camera, "saturation_adu", top, 0)
				agrees(t, camera, "full_well_e", (top-60)*c.Gain, 0.01)
				agrees(t, f, "level_fraction", (0.4*0.955*(top-60)+60)/top, 0.02)
				continue
			}
			for _, m := range []string{"saturation_adu", "full_well_e", "dynamic_range_stops"} {
				withheld(t, camera, m, "not known")
			}
			withheld(t, f, "level_fraction", "not known")
			for _, w := range say.SetWarnings(f) {
				if strings.Contains(w, "30 to 60") {
					t.Errorf("advice without knowing where samples saturate: %s", w)
				}
			}
		}
	}
}

// Samples that are no whole numbers of 16 bits, parts of 1 or of more bits, end where
// stars are cut; a step that would fit 16 bits does not say that they end there.
func TestSaturationOfOtherSamples(t *testing.T) {
	t.Parallel()
	for _, scale := range []float64{65535, 0.5, 0.25} { // parts of 1; 17 and 18 bits in steps of 2 and 4
		c := plainCamera()
		c.W, c.H, c.Parts = 320, 256, scale
		b := newBench(t, c, 7)
		b.bias(4)
		b.flats(4, 0.6*65000*c.Gain)
		b.shoot(3, habit.Shot{Kind: "Light", Exposure: 60, Filter: "L", Light: 2000, Stars: 60})
		r := b.analyse()
		agrees(t, set(t, r, "camera"), "saturation_adu", 65535/scale, 1e-4)
		agrees(t, set(t, r, "flat"), "level_fraction", (0.6*0.955*65000+c.Offset)/65535, 0.02)
	}
}

// Flats too bright to be surely linear still give a gain, a warning and advice.
func TestBrightFlats(t *testing.T) {
	t.Parallel()
	for _, share := range []float64{0.75, 0.82, 0.88} {
		c := plainCamera()
		b := newBench(t, c, 8)
		b.bias(6)
		b.flats(6, share*65000*c.Gain)
		b.shoot(2, habit.Shot{Kind: "Light", Exposure: 60, Filter: "L", Light: 2000, Stars: 60})
		r := b.analyse()
		agrees(t, set(t, r, "camera"), "gain_e_per_adu", c.Gain, 0.01)
		agrees(t, set(t, r, "bias"), "read_noise_e", c.Read, 0.02)
		warns(t, set(t, r, "flat"), "% of saturation", "30 to 60 %")
	}
}

// dark is the dark current of a camera at a temperature.
func dark(c habit.Camera, celsius float64) float64 { return c.Dark * c.Warmer(celsius) }

// Bias frames of a cooler that was off stand apart, are warned of, and are not
// taken off darks of another temperature, nor pooled into the read noise.
func TestBiasWithTheCoolerOff(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	c.Tempco = 0.6
	for _, cooled := range []int{0, 8} {
		b := newBench(t, c, 20)
		b.shoot(8, habit.Shot{Kind: "Bias", SetC: 0, OffC: 4, DriftC: 1})
		b.bias(cooled)
		b.darks(5, 120, 0)
		b.darks(5, 300, 0)
		b.flats(6, 25000)
		r := b.analyse()
		warm, long := set(t, r, "bias 7"), set(t, r, "dark 300 s 0 °C")
		warns(t, warm, "off its set point")
		agrees(t, long, "dark_current_e_per_s", c.Dark, 0.03)
		agrees(t, long, "warm_nonuniformity_e_per_s", c.Warm, 0.1)
		withheld(t, long, "glow_e", "no glow")
		if cooled == 0 {
			warns(t, long, "cooler")
			continue
		}
		// Levels wander by a tenth of the read noise where nothing tells.
		if v := long.Figure("dark_intercept_adu").Value; !(math.Abs(v.V) < 2*v.Err && v.Err < 1) {
			t.Errorf("intercept %v ± %v ADU", v.V, v.Err)
		}
	}
}

// Without bias the figures of patterns come from the difference of two
// exposures, and from one exposure not at all.
func TestDarksWithoutBias(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	c.Pattern, c.Hot, c.Claims = 12, 0.002, c.Gain // the offset's pattern is ten times the dark one's
	for _, glow := range []float64{0, 0.15} {
		if testing.Short() && glow > 0 {
			break
		}
		for _, bias := range []int{0, 10} {
			c.Glow = glow
			b := newBench(t, c, 21)
			b.bias(bias)
			b.flats(6, 25000)
			b.darks(6, 100, 0)
			if bias == 0 {
				one := set(t, b.analyse(), "dark")
				for _, m := range []string{"warm_nonuniformity_e_per_s", "glow_e", "dark_current_mean_e_per_s", "light_leak_pct"} {
					if one.Figure(m).Value.OK() {
						t.Errorf("%s = %v with one exposure and no bias", m, one.Figure(m).Value.V)
					}
				}
			}
			b.darks(6, 400, 0)
			long := set(t, b.analyse(), "dark 400 s")
			if glow > 0 {
				agrees(t, long, "glow_e", glow*400, 0.2) // of the middle of the corner's cell
				continue
			}
			withheld(t, long, "glow_e", "no glow")
			agrees(t, long, "dark_current_adu_per_s", c.Dark/c.Gain, 0.03)
			agrees(t, long, "warm_nonuniformity_e_per_s", c.Warm, 0.05)
		}
	}
}

// A patch that every dark has alike is the read-out's, and no glow: one that grows
// with the exposure is.
func TestGlowGrows(t *testing.T) {
	t.Parallel()
	for _, of := range []struct{ bump, glow float64 }{{20, 0}, {60, 0}, {0, 0.15}, {20, 0.15}} {
		if testing.Short() && of.bump == 20 {
			continue
		}
		c := plainCamera()
		c.Glow = of.glow
		b := newBench(t, c, 24)
		b.bias(6)
		b.flats(4, 25000)
		for _, seconds := range []float64{100, 300} {
			b.shoot(5, habit.Shot{Kind: "Dark", Exposure: seconds, Bump: of.bump})
		}
		long := set(t, b.analyse(), "dark 300 s")
		if of.glow == 0 {
			withheld(t, long, "glow_e", "does not grow with the exposure")
		} else if v := long.Figure("glow_e").Value; !v.OK() {
			t.Errorf("a glow of %g e-: %v", 300*of.glow, v.Why)
		}
	}
}

// Flats whose noise differs from pair to pair by more than it may give no gain,
// and nothing that rests on it.
func TestFlatsThatScatter(t *testing.T) {
	t.Parallel()
	for _, unquiet := range []float64{0, 30, 60} { // 90 and 180 e- of noise beside the light's 160
		c := plainCamera()
		c.W, c.H = 320, 256
		b := newBench(t, c, 25)
		b.bias(6)
		b.Unquiet = unquiet
		for range 8 { // each a series of its own
			b.flats(1, 25000)
		}
		r := b.analyse()
		flat := set(t, r, "flat")
		if unquiet == 0 {
			agrees(t, flat, "gain_e_per_adu", c.Gain, 0.01)
			continue
		}
		withheld(t, flat, "gain_e_per_adu", "not steady")
		if v := set(t, r, "camera").Figure("read_noise_e").Value; v.OK() {
			t.Errorf("read noise of %v e- without a gain", v.V)
		}
	}
}

// Darks of up to a tenth of a second are bias frames.
func TestZeroSecondDarks(t *testing.T) {
	t.Parallel()
	for _, seconds := range []float64{0, 0.001, 0.1} {
		if testing.Short() && seconds > 0 {
			break
		}
		c := plainCamera()
		b := newBench(t, c, 22)
		b.darks(8, seconds, 0)
		b.darks(5, 200, 0)
		b.flats(6, 25000)
		r := b.analyse()
		agrees(t, set(t, r, "bias"), "read_noise_e", c.Read, 0.02)
		agrees(t, set(t, r, "dark"), "dark_current_e_per_s", c.Dark, 0.03)
	}
}

// A camera that takes the level of its shaded pixels off, dark current included:
// the level tells nothing, the noise does; with a pedestal and cut at zero.
func TestBlackLevelTakenOffInCamera(t *testing.T) {
	t.Parallel()
	for _, pedestal := range []float64{200, 6, 0} {
		if testing.Short() && pedestal > 0 {
			continue // none at all cuts the most of the noise off
		}
		c := plainCamera()
		c.Shaded, c.Offset, c.Dark, c.Warm, c.Pattern = true, pedestal, 0.3, 0.01, 0.2
		b := newBench(t, c, 23)
		b.bias(10)
		b.flats(6, 25000)
		b.darks(6, 300, 0)
		b.darks(6, 300, 10)
		r := b.analyse()
		at0 := set(t, r, "dark 300 s 0 °C")
		agrees(t, at0, "dark_current_by_noise_e_per_s", dark(c, 0), 0.1)
		agrees(t, at0, "dark_current_e_per_s", dark(c, 0), 0.1)
		agrees(t, set(t, r, "dark 300 s 10 °C"), "dark_current_e_per_s", dark(c, 10), 0.1)
		camera := set(t, r, "camera")
		warns(t, camera, "the noise is believed")
		agrees(t, camera, "dark_doubling_c", c.DoublingAt(5), 0.1)
	}
}

// copyFiles writes the files again under other names.
func (b *bench) copyFiles(paths []string) {
	b.t.Helper()
	for i, p := range paths {
		data, err := os.ReadFile(p)
		if err == nil {
			err = os.WriteFile(filepath.Join(b.Dir, fmt.Sprintf("again_%s_%d.fits", filepath.Base(p), i)), data, 0o644)
		}
		if err != nil {
			b.t.Fatal(err)
		}
	}
}

// Copies are named and left out of every figure.
func TestCopiesOfCalibrationFrames(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	b := newBench(t, c, 30)
	b.copyFiles(b.shoot(10, habit.Shot{Kind: "Bias"}))
	b.copyFiles(b.shoot(5, habit.Shot{Kind: "Dark", Exposure: 200})[:2])
	b.copyFiles(b.shoot(6, habit.Shot{Kind: "Flat", Exposure: 2, Filter: "L", Light: 25000, Unsteady: 0.003})[:3])
	r := b.analyse()
	bias, darks, flat := set(t, r, "bias"), set(t, r, "dark"), set(t, r, "flat")
	// The converter's rounding is in it: 3.75 ADU and 0.29 ADU.
	agrees(t, bias, "master_noise_adu", math.Hypot(c.Read/c.Gain, 0.29)/math.Sqrt(10), 0.01)
	agrees(t, bias, "read_noise_adu", c.Read/c.Gain, 0.01)
	agrees(t, flat, "gain_e_per_adu", c.Gain, 0.01)
	agrees(t, flat, "master_snr", math.Sqrt(6*25000*0.95), 0.03)
	agrees(t, flat, "prnu_pct", 100*c.PRNU, 0.03)
	for _, s := range []*sensor.Set{bias, darks, flat} {
		warns(t, s, "the same pixels", "again_")
	}
}

// A frame combined from many, among raw ones, is none of them.
func TestCombinedFrameAmongRawOnes(t *testing.T) {
	t.Parallel()
	for _, of := range []int{6, 30} {
		c := plainCamera()
		c.Read /= math.Sqrt(float64(of))
		b := newBench(t, c, 31)
		b.bias(1)
		c = plainCamera()
		raw := habit.New(c, b.Dir, 31)
		if _, err := raw.Series(1, habit.Shot{Kind: "Unnamed"}); err != nil { // another name than the first's
			t.Fatal(err)
		}
		if _, err := raw.Series(9, habit.Shot{Kind: "Bias"}); err != nil {
			t.Fatal(err)
		}
		s := set(t, b.analyse(), "bias")
		agrees(t, s, "read_noise_adu", c.Read/c.Gain, 0.01)
		warns(t, s, "Bias_001.fits", "combined from several")
	}
}

// level is a map of one level with a little noise, as the mean of many frames has.
func level(c habit.Camera, of, noise float64) []float32 {
	rng := rand.New(rand.NewPCG(2, 2))
	p := make([]float32, c.W*c.H)
	for i := range p {
		p[i] = float32(of + noise*rng.NormFloat64())
	}
	return p
}

// Masters made elsewhere: told from raw frames by their samples, counted as the
// frames that made them, used only when they are in ADU, or scaled to 1 as the subs bear
// out, and hold the offset.
func TestMastersMadeElsewhere(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	c.W, c.H = 160, 128 // levels, and noise to a hundredth
	shot := habit.Shot{Kind: "Dark", Exposure: 300}
	for name, v := range map[string]struct {
		dark   []float32
		cards  []fitsio.Card
		bias   int
		taken  float64 // ADU, what is taken off the subs; 0: nothing
		words  string  // of the coverage
		enough int     // frames behind it
	}{
		"plain":                   {level(c, 1018, 0.5), nil, 0, 1018, "a master dark (of how many", -1},
		"counted":                 {level(c, 1018, 0.5), []fitsio.Card{{Name: "NCOMBINE", Value: 24}}, 0, 1018, "a master dark of 24 frames", 24},
		"a sum of many":           {level(c, 16*1018, 8), []fitsio.Card{{Name: "NCOMBINE", Value: 16}}, 8, 1018, "a master dark of 16 frames", 16},
		"a sum, no bias":          {level(c, 5*1018, 3), []fitsio.Card{{Name: "STACKCNT", Value: 5}}, 0, 1018, "a master dark of 5 frames", 5},
		"a sum of two":            {level(c, 2*1018, 1), []fitsio.Card{{Name: "NCOMBINE", Value: 2}}, 8, 1018, "a master dark of 2 frames", 2},
		"a sum of how many":       {level(c, 7*1018, 8), nil, 8, 1000, "a sum of frames", 0},
		"bias taken off":          {level(c, 18, 0.8), nil, 8, 1018, "a master dark", -1},
		"bias taken off, no bias": {level(c, 0.3, 0.8), nil, 0, 0, "a bias was taken off", 0},
		"on a pedestal":           {level(c, 118, 0.8), []fitsio.Card{{Name: "PEDESTAL", Value: -100}}, 8, 1018, "a master dark", -1},
		"on a pedestal, no bias":  {level(c, 118, 0.8), []fitsio.Card{{Name: "PEDESTAL", Value: 100}}, 0, 0, "a", 0},
		"scaled to one":           {level(c, 1018./65535, 1e-5), nil, 0, 1018, "a master dark (of how many", -1},
		"scaled, on a pedestal":   {level(c, 1118./65535, 1e-5), []fitsio.Card{{Name: "PEDESTAL", Value: 100}}, 0, 1018, "a master dark (of how many", -1},
		"scaled by another range": {level(c, 1018./4095, 2e-4), nil, 0, 0, "scaled to 1", 0},
		"a rate below 1":          {level(c, 0.012, 3e-3), nil, 0, 0, "scaled to 1", 0},
	} {
		b := newBench(t, c, 40)
		b.bias(v.bias)
		with := shot
		with.Cards = v.cards
		if _, err := b.Master("long.fits", v.dark, with); err != nil {
			t.Fatal(err)
		}
		b.shoot(3, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: 500})
		r := b.analyse()
		got := r.Coverage[0]
		if !strings.Contains(say.Fit(&got.Dark.Fit), v.words) || v.enough != 0 && got.Dark.Count != v.enough {
			t.Errorf("%s: %q, %d frames behind it", name, say.Fit(&got.Dark.Fit), got.Dark.Count)
		}
		calibration := r.For(got.Lights)
		taken := calibration.Planes().Subtract.Pixels()
		if v.taken == 0 && taken != nil || v.taken > 0 && (taken == nil || math.Abs(float64(taken[100])-v.taken) > 5) {
			t.Errorf("%s: %v taken off, want %v", name, taken[:min(1, len(taken))], v.taken)
		}
	}
}

// A lone dark of whole numbers that nothing names is a master where it has less
// noise than one frame's read noise; a raw one is none. One in ADU a second, or
// with its bias left in divided too, is told by noise that no number of frames leaves.
func TestMastersToldByTheirNoise(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	c.W, c.H = 160, 128
	shot := habit.Shot{Kind: "Dark", Exposure: 300}
	for name, v := range map[string]struct {
		level, noise float64 // ADU; noise 0: a raw dark
		whole        bool
		words        string
		taken        bool
	}{
		"raw":                        {0, 0, true, "1 dark fits", true},
		"of 4":                       {1018, 1.9, true, "a master dark (of how many", true},
		"of 30":                      {1018, 0.7, true, "a master dark (of how many", true},
		"a second, hot sensor":       {4.2, 0.004, false, "divided by the exposure", false},
		"a second, the offset in it": {1018. / 300, 0.003, false, "divided by the exposure", false},
	} {
		b := newBench(t, c, 41)
		b.bias(8)
		if v.noise == 0 {
			b.shoot(1, shot)
		} else {
			pixels := level(c, v.level, v.noise)
			for i := range pixels {
				if v.whole {
					pixels[i] = float32(math.Round(float64(pixels[i])))
				}
			}
			if _, err := b.Master("long.fits", pixels, shot); err != nil {
				t.Fatal(err)
			}
		}
		b.shoot(3, habit.Shot{Kind: "Light", Exposure: 300, Filter: "L", Light: 500})
		r := b.analyse()
		got := r.Coverage[0]
		if !strings.Contains(say.Fit(&got.Dark.Fit), v.words) {
			t.Errorf("%s: %q", name, say.Fit(&got.Dark.Fit))
		}
		calibration := r.For(got.Lights)
		taken := calibration.Planes().Subtract.Pixels()
		if v.taken && (taken == nil || math.Abs(float64(taken[100])-1018) > 20) || !v.taken && taken != nil && taken[100] < 900 {
			t.Errorf("%s: %v taken off", name, taken[:min(1, len(taken))])
		}
	}
}

// What no frame of tonight tells of the camera's mode, an earlier night does, with
// its date; another mode's figures do not count.
func TestFiguresOfEarlierNights(t *testing.T) {
	t.Parallel()
	c := plainCamera()
	b := newBench(t, c, 50)
	b.bias(1)
	b.shoot(2, habit.Shot{Kind: "Light", Exposure: 300, SetC: -10, Filter: "L", Light: 500})
	old := func(setting, metric string, v, err float64) sensor.Remembered {
		return sensor.Remembered{Camera: "Invented Mono 1", Setting: setting, Metric: metric, Value: stats.Known(v, err, 10), Night: "2025-01-13"}
	}
	r := b.analyse(func(o *calib.Options) {
		o.Remembered = []sensor.Remembered{
			old("gain 0", "gain_e_per_adu", 4, 0.01), old("gain 0", "read_noise_e", 9, 0.01),
			old("gain 100", "gain_e_per_adu", c.Gain, 0.004), old("gain 100", "read_noise_e", c.Read, 0.01),
			old("gain 100", "dark_current_0c_e_per_s", c.Dark, 0.001), old("gain 100", "dark_activation_ev", 8.617333e-5*math.Ln2*273.15*273.15/c.Doubling, 0.005),
		}
	})
	camera := set(t, r, "camera")
	agrees(t, camera, "gain_e_per_adu", c.Gain, 1e-6)
	agrees(t, camera, "read_noise_e", c.Read, 1e-6)
	for _, m := range camera.Metrics() {
		if m.Name == "gain_e_per_adu" && !strings.Contains(say.Note(m.Note), "of the night of 2025-01-13, 47 days before") {
			t.Errorf("%s: %q", m.Name, say.Note(m.Note))
		}
	}
	rate := r.For(r.Coverage[0].Lights).DarkRate
	if want := dark(c, -10); !(math.Abs(rate.V-want) <= 1e-3*want) || !(rate.Err > 0) {
		t.Errorf("dark rate %v ± %v, want %v", rate.V, rate.Err, want)
	}
	if want := []string{"read_noise_e", "dark_current_0c_e_per_s", "gain_e_per_adu"}; !slices.Equal(camera.Summary.Old, want) {
		t.Errorf("told as old: %q, want %q", camera.Summary.Old, want)
	}
}

// Noise under half a step of the converter, on steps of 1, 4 and 16: two frames
// differ in few of their pixels, and are no copies; the read noise is a limit, and
// the electrons are kept.
func TestNoiseUnderHalfAStep(t *testing.T) {
	t.Parallel()
	for _, step := range []float64{1, 4, 16} {
		if testing.Short() && step < 16 {
			continue
		}
		for _, share := range []float64{0.15, 0.25, 0.35} { // of a step
			c := plainCamera()
			c.Step, c.Offset, c.Pattern = step, 1000, 0.2*step
			c.Gain = 16 / step
			c.Read = share * step * c.Gain
			b := newBench(t, c, uint64(step))
			b.bias(6)
			b.flats(6, 25000*c.Gain)
			r := b.analyse()
			bias, camera := set(t, r, "bias"), set(t, r, "camera")
			agrees(t, camera, "gain_e_per_adu", c.Gain, 0.01)
			agrees(t, bias, "read_noise_adu", 0.3958*step, 0.001) // EMVA 1288
			agrees(t, camera, "read_noise_e", 0.3958*step*c.Gain, 0.011)
			for _, s := range []*sensor.Set{bias, camera} {
				for _, m := range s.Metrics() {
					if m.Name == "read_noise_e" && !(fact.Has(m.Note, sensor.UpperLimit) && math.IsNaN(m.Value.Err)) {
						t.Errorf("%s: %v ± %v e-, %q", s.Label, m.Value.V, m.Value.Err, say.Note(m.Note))
					}
				}
			}
		}
	}
}
