package say

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sensor/given"
	"fitsqa/internal/stats"
	"fitsqa/internal/worth"
)

// modern is a group of subs of a modern sensor with the given dark sets.
func modern(sets ...*sensor.Set) worth.Input {
	return worth.Input{Label: "Ha 300 s", Camera: sensor.ModeOf(given.Group(frames.Light, 1, 300, 0)), Subs: 60, Exposure: 300, TempC: 0,
		SkyRate: stats.Known(0.05, 0.001, 60), Gain: stats.Known(1, 0.001, 20), ReadNoise: stats.Known(1.5, 0.01, 20),
		DarkRate: stats.Known(0.002, 0.0001, 20), Saturation: math.NaN(), Sets: sets, DitherPx: 6}
}

// drawnInput is a group of subs as they come: any sensor, sky, exposure and number of darks.
func drawnInput(r *rand.Rand) worth.Input {
	pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
	exposure := pick(30, 120, 600)
	var hot []sensor.HotRate
	if r.IntN(2) == 0 {
		hot = []sensor.HotRate{{Above: pick(0.05, 1), N: 40}, {Above: 5, N: int(pick(0, 3, 2000))}}
	}
	dark := given.Darks(exposure, 0, pick(0.001, 0.05, 0.4), pick(0.0001, 0.004, 0.08), hot...)
	if r.IntN(2) == 0 {
		dark = given.Glowing(dark, pick(0.3, 4, 90))
	}
	in := modern(dark)
	in.Exposure, in.Subs, in.DitherPx = exposure, int(pick(8, 15, 60)), pick(0, 6, math.NaN())
	in.SkyRate = stats.Known(pick(0.01, 0.3, 8), 0.001, 60)
	in.ReadNoise = stats.Known(pick(1, 8), 0.01, 20)
	in.DarkRate = dark.Figure("dark_current_e_per_s").Value
	if n := int(pick(0, 3, 5, 20, 60)); n > 0 {
		in.Dark, in.DarkFits = dark, true
		dark.Group = given.Group(frames.Dark, n, exposure, 0)
	}
	if r.IntN(3) == 0 { // no darks at all
		in.Dark, in.DarkFits, in.Sets = nil, false, nil
		in.Found = &worth.Found{Pattern: stats.Missing("hidden in the noise of the subs"), AtMost: pick(0.1, 1, 20), Pixels: 24e6, Part: 0.1,
			Glow: worth.SeenGlow{Height: stats.Missing("cannot be told"), AtMost: pick(0.1, 9), Place: sensor.Left, Area: 5000}}
		if r.IntN(2) == 0 {
			in.Found.Pattern = stats.Known(in.Found.AtMost/2, in.Found.AtMost/20, 12)
		}
	}
	return in
}

var bracket = regexp.MustCompile(`\([^()]*\)`)

// Whatever was weighed: the sentence begins with the verdict,
// has at most two clauses behind them, and says nothing against them.
func TestSentencesKeepToTheirVerdict(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	seen := map[worth.Reason]int{}
	for range 250 {
		in := drawnInput(r)
		w := worth.OfDarks(in)
		sentence := Darks(&w)
		told := bracket.ReplaceAllString(sentence, "")
		fault := ""
		of := func(wrong bool, what string) {
			if wrong && fault == "" {
				fault = what
			}
		}
		if w.Verdict() == "" {
			of(sentence != "" || DarksOpen(&w) == "", "no verdict needs its reason, and no sentence")
			if fault != "" {
				t.Errorf("%s: %+v", fault, w)
			}
			continue
		}
		seen[w.Reason]++
		worthIt := w.Verdict() == worth.WorthIt
		of(!strings.HasPrefix(sentence, string(w.Verdict())), "another verdict")
		of(worthIt != (w.Darks > 0), "darks to shoot")
		of(strings.Count(told, ";") > 1, "more than two clauses")
		of(strings.Contains(told, "NaN") || strings.Contains(told, "Inf"), "no number")
		first, second, _ := strings.Cut(told, ";")
		of(w.Reason == worth.LessNoise && !strings.Contains(first, "lower the noise"), "worth it for no gain")
		of(w.Reason == worth.NoGain && !strings.Contains(first, "use your") && w.BenefitPct.V >= worth.WorthyBenefit, "a gain not worth it")
		of(strings.Contains(told, "use your") && strings.Contains(told, "raise the noise") && w.Reason != worth.HotPixels, "use what raises the noise")
		of(w.AtHand == 0 && strings.Contains(told, "your"), "darks that are not there")
		of(w.Reason == worth.Glow && strings.Contains(second, "lower the noise") && w.BenefitPct.V >= worth.WorthyBenefit && w.MoreBiasPct < worth.WorthyBenefit/2, "for the glow only, and for the noise")
		for _, b := range []worth.Master{worth.OfBias(in, w)} {
			of(b.Verdict == worth.NotNeeded && strings.Contains(told, "leave your"), "no bias beside darks that are left out")
		}
		if fault != "" {
			t.Errorf("%s: %q, %q", fault, w.Verdict(), sentence)
		}
	}
	for _, reason := range []worth.Reason{worth.LessNoise, worth.Glow, worth.HotPixels, worth.NoGain, worth.MoreBias} {
		if seen[reason] == 0 {
			t.Errorf("%q was never decided on: %v", reason, seen)
		}
	}
	t.Log(seen)
}

// The verdicts in full.
func TestSentencesOfDarksAndMasters(t *testing.T) {
	in := modern(given.Darks(300, 0, 0.01, 0.004, sensor.HotRate{Above: 0.5, N: 1200}))
	in.DarkRate = stats.Known(0.01, 0.001, 20)
	is := func(got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	darks := func() string {
		w := worth.OfDarks(in)
		return Darks(&w)
	}
	in.DitherPx = 0
	is(darks(), "worth it: 30 frames: they lower the noise by 48 %, with subs of 600 s by 53 %; without them 1200 hot pixels would stay after rejection by standard deviation")
	in.DitherPx = 6
	is(darks(), "not worth it: 30 darks would lower the noise by 3.2 %")
	in.Dark, in.DarkFits = in.Sets[0], true
	is(darks(), "not worth it: use your 20 darks, they lower the noise by 3.0 %")

	bias := given.Set(given.Group(frames.Bias, 100, 0, 0))
	given.Give(bias, "offset_adu", stats.Known(500, 0, 100))
	given.Give(bias, "read_noise_adu", stats.Known(1.5, 0, 100))
	given.Give(bias, "fixed_pattern_adu", stats.Known(0.5, 0, 100))
	masters := func() (string, string) {
		b, f := worth.OfBias(in, worth.OfDarks(in)), worth.OfFlats(in)
		return Master(&b), Master(&f)
	}
	in = modern()
	in.Subs, in.SkyRate, in.Bias, in.BiasFits = 40, stats.Known(0.5, 0, 40), bias, true
	got, _ := masters()
	is(got, "enough: your 100 add under 0.1 % to the stack's noise; 10 bias frames would do, 1000 change nothing, and with none the offset's pattern adds 0.1 %")
	in.DarkFits, in.Dark = true, given.Darks(300, 0, 0.002, 0.0003)
	got, _ = masters()
	is(got, "not needed beside your 20 darks, which hold the offset; in place of them 10 bias frames would do, 1000 change nothing, and with neither the offset's pattern adds 0.1 %")
	in = modern()
	in.SkyRate, in.Bias, in.Saturation = stats.Known(1, 0, 40), bias, 50500
	_, got = masters()
	is(got, "none fit; 5 flats lit to half of the range would do, 100 change nothing")
}
