package worth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sensor/given"
	"fitsqa/internal/stats"
)

// modern is a group of subs of a modern sensor with the given dark sets.
func modern(sets ...*sensor.Set) Input {
	return Input{Label: "Ha 300 s", Camera: sensor.ModeOf(given.Group(frames.Light, 1, 300, 0)), Subs: 60, Exposure: 300, TempC: 0,
		SkyRate: stats.Known(0.05, 0.001, 60), Gain: stats.Known(1, 0.001, 20), ReadNoise: stats.Known(1.5, 0.01, 20),
		DarkRate: stats.Known(0.002, 0.0001, 20), Saturation: math.NaN(), Sets: sets, DitherPx: 6}
}

// Common practice, no source: a modern low-dark sensor, 300 s at 0 °C, shows
// practically no hot pixels, and darks change nothing.
func TestDarksChangeNothingForModernSensor(t *testing.T) {
	w := OfDarks(modern(given.Darks(300, 0, 0.002, 0.0003)))
	if w.Verdict() != NotWorthIt || !(math.Abs(w.BenefitPct.V) <= 0.5) {
		t.Errorf("%q, benefit %.2f %%", w.Verdict(), w.BenefitPct.V)
	}
}

// With M identical darks and subs, a calibrated sub is sqrt(1+1/M) noisier:
// the factors of a mean master (identity; the design's reference notes list
// them to six digits).
func TestMasterNoiseFactor(t *testing.T) {
	s := figures{read: 3, dark: 0.02}
	for m, want := range map[int]float64{1: 1.414214, 5: 1.095445, 10: 1.048809, 20: 1.024695, 50: 1.009950, 100: 1.004988} {
		got := s.budget(ByDarks, m, 300, still(1)).Total / s.budget(ByNothing, 0, 300, still(1)).Total
		if !(math.Abs(got-want) <= 1e-6) {
			t.Errorf("%d darks: %.6f, want %.6f", m, got, want)
		}
	}
}

// A single value among n lies at most (n-1)/sqrt n standard deviations from the
// mean, so that rejection at 3 leaves every outlier among ten in (2.846) and
// takes a bright enough one among eleven (3.015) out.
func TestOneOutlierAmongTenCannotBeRejected(t *testing.T) {
	for n, stays := range map[int]bool{5: true, 10: true, 11: false, 30: false} {
		left := alone(n).stays(0, ByScatter)
		if stays && left < 0.999 || !stays && left > 0.001 {
			t.Errorf("%d subs: stays with a chance of %.3f", n, left)
		}
		if left := alone(n).stays(0, ByNoise); left > 0.001 {
			t.Errorf("%d subs: known noise leaves it with a chance of %.3f", n, left)
		}
	}
}

func TestWorthSaysWhatIsLacking(t *testing.T) {
	for _, c := range []struct {
		lacks fact.Code
		take  func(*Input)
	}{
		{NoDarks, func(in *Input) { in.Sets = nil }},
		{NoReadNoise, func(in *Input) { in.ReadNoise = stats.Missing("one bias frame") }},
		{NoSky, func(in *Input) { in.SkyRate = stats.Missing("no offset") }},
		{NoExposure, func(in *Input) { in.Exposure = math.NaN() }},
		{NoSubs, func(in *Input) { in.Subs = 0 }},
	} {
		in := modern(given.Darks(300, 0, 0.002, 0.0003))
		c.take(&in)
		w := OfDarks(in)
		if w.Verdict() != "" || w.Lacks.Code != c.lacks || w.BenefitPct.OK() {
			t.Errorf("%s: %+v", c.lacks, w)
		}
	}
}

// Drift of tens of pixels moves the pattern as dither does, and dithers that
// coincide do so less; a field turned at the pier leaves nothing on itself.
func TestWhatMovesThePattern(t *testing.T) {
	places := func(n int, at func(k int) Place) []Place {
		var p []Place
		for k := range n {
			p = append(p, at(k))
		}
		return p
	}
	shift := func(x, y float64) Place { return Place{A: 1, C: x, E: 1, F: y} }
	for _, c := range []struct {
		name   string
		places []Place
		share  float64
	}{
		{"still", places(20, func(int) Place { return shift(0, 0) }), 1},
		{"drift of 40 px", places(20, func(k int) Place { return shift(2*float64(k), 0) }), 0.05},
		{"two positions", places(20, func(k int) Place { return shift(9*float64(k%2), 0) }), 0.5},
		{"pier flip", places(20, func(k int) Place {
			if k < 10 {
				return shift(0, 0)
			}
			return Place{A: -1, C: 5999, E: -1, F: 3999}
		}), 0.5},
		// Half a pixel each way: every two neighbours fall on one pixel.
		{"drift of half a px a sub", places(20, func(k int) Place { return shift(0.5*float64(k), 0) }), 0.1},
	} {
		l, ok := layoutOf(20, c.places, 6000, 4000)
		// At the middle of the frame a flip leaves one pixel where it was.
		if !ok || !(math.Abs(l.share-c.share) <= 0.2*c.share) {
			t.Errorf("%s: share %.3f, want %.3f", c.name, l.share, c.share)
		}
		total := 0.0
		for _, m := range l.meeting {
			total += m.pixels * float64(m.subs)
		}
		if !(math.Abs(total-20) <= 1e-9) {
			t.Errorf("%s: %g subs lie somewhere", c.name, total)
		}
		for range 8 {
			if again, _ := layoutOf(20, c.places, 6000, 4000); again.share != l.share || !slices.Equal(again.meeting, l.meeting) {
				t.Fatalf("%s: %+v, and again %+v", c.name, l, again)
			}
		}
	}
}

// Glow that sets of two temperatures show alike is not scaled with the dark
// current, and one that grows is.
func TestGlowScalesAsMeasured(t *testing.T) {
	cold, warm := given.Glowing(given.Darks(300, -20, 0.001, 0.0003), 3), given.Glowing(given.Darks(600, 0, 0.008, 0.002), 6)
	if g := glowAt([]*sensor.Set{cold, warm}, -10, 60); !(math.Abs(g.rate-0.01) <= 0.0005) {
		t.Errorf("steady glow: %.4f e-/s", g.rate)
	}
	if g := glowAt([]*sensor.Set{warm}, -20, 60); !(math.Abs(g.rate-0.01) <= 0.0005) {
		t.Errorf("one set: %.4f e-/s", g.rate)
	}
	growing := given.Glowing(given.Darks(600, 0, 0.008, 0.002), 24)
	if g := glowAt([]*sensor.Set{cold, growing}, -10, 60); !(math.Abs(g.rate-0.02) <= 0.002) {
		t.Errorf("growing glow: %.4f e-/s, want the geometric mean", g.rate)
	}
	// A glow that grows as the 1.6th power of time: the darks nearest to the subs' exposure tell.
	var sets []*sensor.Set
	for _, t := range []float64{30, 120, 300} {
		sets = append(sets, given.Glowing(given.Darks(t, -10, 0.002, 0.0005), 0.002*math.Pow(t, 1.6)))
	}
	for exposure, of := range map[float64]float64{30: 30, 100: 120, 120: 120, 400: 300} {
		if g := glowAt(sets, -10, exposure); !(math.Abs(g.rate/(0.002*math.Pow(of, 0.6))-1) <= 0.02) {
			t.Errorf("in %g s: %.4f e-/s, want that of the darks of %g s", exposure, g.rate, of)
		} else if g.scaled != (exposure == 400) {
			t.Errorf("in %g s: scaled %v", exposure, g.scaled)
		}
	}
}

// The glow of the demo's kind: a few electrons, a fifth of a narrow band's sky,
// and nothing under a bright one.
func TestGlowIsHeldAgainstTheSky(t *testing.T) {
	in := modern(given.Glowing(given.Darks(300, 0, 0.002, 0.0003), 3))
	if w := OfDarks(in); w.Reason != Glow || w.Darks != 30 || !(math.Abs(w.GlowPct.V-20) <= 0.5) {
		t.Errorf("dark sky: %+v", w)
	}
	in.SkyRate = stats.Known(4, 0.01, 60)
	if w := OfDarks(in); w.Reason != NoGain {
		t.Errorf("bright sky: %+v", w)
	}
}

// Two sets of one sensor: the better one speaks, whatever lies nearer in exposure.
func TestBestSetSpeaks(t *testing.T) {
	poor, good := given.Darks(300, 0, 0.002, 0.0004), given.Darks(600, 0, 0.002, 0.0003)
	poor.Dark.Nonuniformity.Err = 0.0002
	in := modern(poor, good)
	if s, _, _ := in.sensor(); s.pattern != 0.0003 {
		t.Errorf("pattern %g", s.pattern)
	}
}

// Darks 15 °C warmer than the subs, whose dark current no law carries there: the subs' own
// pattern speaks where they tell it, else that of the darks less what two and a half
// doublings make of it (6 °C each: common practice, no source; wider ones towards 0 °C, so
// that a sixth more is left).
func TestDarksOfAnotherTemperature(t *testing.T) {
	in := modern(given.Darks(300, 0, 0.2, 0.03, sensor.HotRate{Above: 1, N: 100}))
	in.TempC, in.DarkRate, in.SkyAndDark = -15, stats.Missing("no law"), true
	if in.DarksTell() {
		t.Error("darks so warm tell")
	}
	s, caveats, _ := in.sensor()
	times := math.Exp2(-2.5)
	for what, share := range map[string]float64{"dark": s.dark / 0.2, "pattern": s.pattern / 0.03, "hot": s.hot[0].above, "sky": (in.SkyRate.V - s.sky) / 0.2} {
		if share/times < 1 || share/times > 1.17 {
			t.Errorf("%s: %.3f of the darks', want %.3f", what, share, times)
		}
	}
	if !slices.Contains(caveats, DarkCarried) || s.patternErr < 0.2*s.pattern || s.patternErr > 0.5*s.pattern {
		t.Errorf("%v, pattern %g ± %g", caveats, s.pattern, s.patternErr)
	}
	in.Found = &Found{Pattern: stats.Known(0.9, 0.1, 60), AtMost: 1.2, Hot: []float64{50}, Pixels: 1e6, Part: 1, Glow: SeenGlow{Height: stats.Missing("hidden"), AtMost: 9}}
	s, caveats, _ = in.sensor()
	if !(math.Abs(s.pattern-0.9/300) <= 1e-9) || len(s.hot) != 1 || !slices.Equal(caveats, []Caveat{FromSubs, SkyWithDark}) || s.sky != in.SkyRate.V {
		t.Errorf("%v: pattern %g, hot %v, sky %g", caveats, s.pattern, s.hot, s.sky)
	}
}

// Darks far colder than the subs, carried by a usual doubling, tell little: where twice
// their error reaches from nothing to what is worth it there is no verdict.
func TestBenefitThatMayBeNothing(t *testing.T) {
	told, open := 0, 0
	for pattern := 1e-4; pattern < 0.1; pattern *= 1.2 {
		in := modern(given.Darks(300, -15, 0.002, pattern))
		in.TempC, in.DarkRate = 10, stats.Missing("no law")
		w := OfDarks(in)
		if w.Doubt == BenefitInDoubt {
			open++
		}
		if w.Reason != LessNoise {
			continue
		}
		told++
		if !(w.BenefitPct.V > 2*w.BenefitPct.Err) {
			t.Errorf("%.1f ± %.1f %% is worth it", w.BenefitPct.V, w.BenefitPct.Err)
		}
	}
	if open == 0 || told == 0 {
		t.Errorf("%d left open, %d worth it: want some of both", open, told)
	}
}

// Darks into which light leaks are none to use.
func TestLeakingDarksAreNotAtHand(t *testing.T) {
	in := modern(given.Darks(300, -10, 0.002, 1e-4))
	in.DarkFits, in.Dark = true, in.Sets[0]
	if in.darks() == 0 {
		t.Fatal("no darks at hand before the leak")
	}
	in.Dark.Warnings = append(in.Dark.Warnings, fact.Of(sensor.DarkGradient))
	if n := in.darks(); n != 0 {
		t.Errorf("%d leaking darks are at hand", n)
	}
}

// Of two cameras each hears of the benefit for its own subs alone; one whose
// subs could not be weighed hears why.
func TestBenefitGoesToItsCamera(t *testing.T) {
	camera := func(name names.Name, gain float64) *sensor.Set {
		s := sensor.NewSet(sensor.KindCamera, "not measured")
		s.Summary.Mode = sensor.Mode{Camera: name, BinX: 1, BinY: 1, GainSetting: gain}
		return s
	}
	mono, colour, idle := camera("Invented Mono 1", math.NaN()), camera("Invented Colour 2", 100), camera("Invented Colour 2", 0)
	answer := func(of *sensor.Set, label string, benefit float64) Answer {
		return Answer{Label: label, Camera: of.Summary.Mode, BenefitPct: stats.Known(benefit, 0.1, 9)}
	}
	NoteBenefits([]*sensor.Set{mono, colour, idle}, []Answer{answer(mono, "L", 1), answer(mono, "Ha", 7), answer(colour, "OSC", -2)})
	for _, c := range []struct {
		of   *sensor.Set
		want float64
		note string
	}{{mono, 7, "Ha"}, {colour, -2, "OSC"}} {
		if m := c.of.Summary.DarkBenefit; m.V != c.want || !slices.EqualFunc(m.Note, []fact.Fact{fact.Of(BenefitFor, fact.Text("group", c.note))}, func(a, b fact.Fact) bool { return fmt.Sprint(a) == fmt.Sprint(b) }) {
			t.Errorf("%s: %+v, want %g for %s", c.of.Summary.Mode.Camera, m, c.want, c.note)
		}
	}
	if v := idle.Figure("dark_benefit_pct").Value; v.OK() {
		t.Errorf("a camera without subs has a benefit of %g", v.V)
	}
}

// A thousand-frame master bias can be seen to buy nothing.
func TestBiasWorth(t *testing.T) {
	bias := given.Set(given.Group(frames.Bias, 100, 0, 0))
	given.Give(bias, "read_noise_adu", stats.Known(1.5, 0, 100))
	given.Give(bias, "fixed_pattern_adu", stats.Known(0.5, 0, 100))
	in := modern()
	in.Subs, in.SkyRate, in.Bias, in.BiasFits = 40, stats.Known(0.5, 0, 40), bias, true
	w := OfBias(in, OfDarks(in))
	// sqrt(0.502·300+2.25)/sqrt(40) = 1.9557 e- of stack; 1.5/sqrt(100·40) = 0.0237 e- of master.
	c := w.Cases[len(sensor.MasterCounts)+1+4]
	if c.N != 100 || !c.Dithered || !(math.Abs(c.Stack-1.9557) <= 1e-3) || !(math.Abs(c.Added-0.02372) <= 1e-4) {
		t.Errorf("%+v", c)
	}
	if w.Verdict != Enough || w.Suffices != 10 || !(math.Abs(w.WithoutPct-0.1) <= 0.05) || !(w.HavePct.V < 0.05) || w.Most != 1000 {
		t.Errorf("%+v", w)
	}
	if w.Cases[0].N != 0 || !(math.Abs(w.Cases[0].Added-0.5) <= 1e-12) {
		t.Errorf("without bias: %+v", w.Cases[0])
	}
	in.DarkFits, in.Dark = true, given.Darks(300, 0, 0.002, 0.0003)
	if w := OfBias(in, OfDarks(in)); w.Verdict != NotNeeded || w.Darks != 20 || w.Suffices != 10 {
		t.Errorf("%+v", w)
	}
	// Five darks that raise the noise are left out, and a bias is needed again.
	few := given.Darks(300, 0, 0.002, 0.0003)
	few.Group = given.Group(frames.Dark, 5, 300, 0)
	in.Dark, in.Sets, in.DitherPx = few, []*sensor.Set{few}, 0
	if d := OfDarks(in); !d.Harm() || OfBias(in, d).Verdict != Enough {
		t.Errorf("%+v beside %+v", OfBias(in, d), d)
	}
	// More subs of earlier nights, none moved: the master's noise begins to show.
	in.DarkFits, in.DitherPx, in.Season = false, 0, 400
	if w := OfBias(in, OfDarks(in)); w.Season != 400 || w.Suffices != 200 || !(math.Abs(w.Cases[0].Stack-1.9557/math.Sqrt(10)) <= 1e-3) {
		t.Errorf("over the season: %+v", w)
	}
}

// Where no flats fit, how many are wanted follows from the sensor's range.
func TestFlatsWanted(t *testing.T) {
	bias := given.Set(given.Group(frames.Bias, 100, 0, 0))
	given.Give(bias, "offset_adu", stats.Known(500, 0, 100))
	in := modern()
	in.SkyRate, in.Bias, in.Saturation = stats.Known(1, 0, 40), bias, 50500
	// A flat of 25000 e- has a signal to noise of 158: five carry 300/354 = 0.85 e- of it, dithered 0.11,
	// against a stack of sqrt(302.9/60) = 2.25 e-.
	if w := OfFlats(in); w.Verdict != MoreWouldHelp || w.Suffices != 5 || w.Have != 0 || w.Most != 100 {
		t.Errorf("%+v", w)
	}
	in.DitherPx = 0 // 0.85 e- would add 7 %
	if w := OfFlats(in); w.Suffices != 20 {
		t.Errorf("%+v", w)
	}
}

func TestFlatsWorth(t *testing.T) {
	flat := given.Set(given.Group(frames.Flat, 4, 2, 0))
	given.Give(flat, "master_snr", stats.Known(200, 0, 4))
	given.Give(flat, "prnu_pct", stats.Known(1, 0, 4))
	in := modern()
	in.Subs, in.SkyRate, in.DarkRate, in.Flat, in.DitherPx = 50, stats.Known(20, 0, 40), stats.Known(0, 0, 1), flat, 0
	w := OfFlats(in)
	// 6000 e- of sky over 200 is 30 e- against sqrt(6002.25/50) = 10.96 e-.
	if w.Verdict != MoreWouldHelp {
		t.Errorf("%+v", w)
	}
	in.DitherPx = 10 // 30/sqrt(50) = 4.24 e-: 7.2 %
	if w := OfFlats(in); w.Verdict != MoreWouldHelp || !(math.Abs(w.Cases[len(flatCounts)+1].Added-60/math.Sqrt(50)) <= 1e-9) || w.Suffices != 20 {
		t.Errorf("%+v", w)
	}
	in.Flat.Flat.SNR.Value = stats.Known(1000, 0, 100)
	if w := OfFlats(in); w.Verdict != Enough {
		t.Errorf("%+v", w)
	}
}

func ExampleOfDarks() {
	in := modern(given.Darks(300, 0, 0.01, 0.004, sensor.HotRate{Above: 0.5, N: 1200}))
	in.DarkRate = stats.Known(0.01, 0.001, 20)
	show := func() {
		w := OfDarks(in)
		fmt.Printf("%s: %d darks lower the noise by %.1f %%\n", w.Verdict(), w.Weighed, w.BenefitPct.V)
	}
	in.DitherPx = 0
	show()
	in.DitherPx = 6
	show()
	// Output:
	// worth it: 30 darks lower the noise by 47.9 %
	// not worth it: 30 darks lower the noise by 3.2 %
}

// Darks of another exposure do as many of the subs' own as have the noise of the scaled signal
// above the bias, here added up from draws of a pixel.
func TestScaledDarksAreAtHand(t *testing.T) {
	const read, rate, draws = 1.5, 0.02, 20000
	for _, own := range []float64{150, 600, 1500} {
		in := modern(given.Darks(own, 0, rate, 0.0003))
		in.Dark, in.DarkRate = in.Sets[0], stats.Known(rate, 1e-4, 20)
		if s, _, _ := in.sensor(); in.asMany(s) != 0 {
			t.Fatal("darks of another exposure are at hand without being scaled")
		}
		in.Bias = given.Set(given.Group(frames.Bias, 20, 0, 0))
		in.DarkScales, in.BiasFits = true, true
		n, biases, k := float64(framesOf(in.Dark)), float64(framesOf(in.Bias)), in.Exposure/own
		s, _, _ := in.sensor()
		rng := rand.New(rand.NewPCG(1, uint64(own)))
		var scaled []float64
		for range draws {
			dark := math.Sqrt((rate*own+read*read)/n) * rng.NormFloat64()
			bias := read / math.Sqrt(biases) * rng.NormFloat64()
			scaled = append(scaled, bias+k*(dark-bias))
		}
		want := (rate*in.Exposure + read*read) / stat.Variance(scaled, nil)
		// Of 20000 draws the variance is known to 1 %; one half is for whole darks.
		if got := float64(in.asMany(s)); !(math.Abs(got-want) <= 0.5+0.05*want) {
			t.Errorf("%g darks of %g s do as many as %g, want %.1f", n, own, got, want)
		}
		if w := OfDarks(in); w.ScaledAs != in.asMany(s) || w.AtHand != int(n) {
			t.Errorf("%d at hand, as %d", w.AtHand, w.ScaledAs)
		}
	}
}

// A master of darks leaves in each sub what its temperature makes of the pattern; where the subs
// lie on each other that cancels.
func TestPatternLeftByDrift(t *testing.T) {
	s := figures{read: 3, dark: 1, pattern: 0.3, spread: 0.2}
	if moved := s.budget(ByDarks, 20, 100, scattered(25)).FixedPattern; !(math.Abs(moved-0.3*100*0.2*math.Sqrt(0.96)/5) <= 1e-9) {
		t.Errorf("%.4g e- where the subs move", moved)
	}
	if same := s.budget(ByDarks, 20, 100, still(25)).FixedPattern; same != 0 {
		t.Errorf("%.4g e- where they lie on each other", same)
	}
}

// A found master dark that is taken off hides the sensor where no bias lets the subs be looked at
// without it: that is no verdict against darks. Where one does, its frames are those at hand.
func TestMasterDarkIsNoVerdict(t *testing.T) {
	in := modern()
	in.MasterTaken, in.DarkFits, in.MasterDarks = true, true, 16
	if w := OfDarks(in); w.Verdict() != "" || w.Lacks.Code != MasterHides {
		t.Errorf("%q for lack of %q", w.Verdict(), w.Lacks.Code)
	}
	in.MasterTaken, in.Found = false, &Found{Pattern: stats.Known(30, 0.5, 20), AtMost: 31.5, Part: 1, Pixels: 1e6,
		Lifted: stats.Missing(NotWeighed), Glow: SeenGlow{Height: stats.Missing(NoEdgeBrighter)}}
	if w := OfDarks(in); w.Verdict() != WorthIt || w.AtHand != 16 || !(w.AtHandPct.V > WorthyBenefit) {
		t.Errorf("%q, %d at hand, %v", w.Verdict(), w.AtHand, w.AtHandPct)
	}
}
