package worth

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/stats"
)

// drawnInput is a group of subs as they come: any sensor, sky, exposure and number of darks.
func drawnInput(r *rand.Rand) Input {
	pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
	exposure := pick(30, 120, 600)
	var hot []calib.HotRate
	if r.IntN(2) == 0 {
		hot = []calib.HotRate{{Above: pick(0.05, 1), N: 40}, {Above: 5, N: int(pick(0, 3, 2000))}}
	}
	dark := darkSet(exposure, 0, pick(0.001, 0.05, 0.4), pick(0.0001, 0.004, 0.08), hot...)
	if r.IntN(2) == 0 {
		dark = glowing(dark, pick(0.3, 4, 90))
	}
	in := modern(dark)
	in.Exposure, in.Subs, in.DitherPx = exposure, int(pick(8, 15, 60)), pick(0, 6, math.NaN())
	in.SkyRate = stats.Known(pick(0.01, 0.3, 8), 0.001, 60)
	in.ReadNoise = stats.Known(pick(1, 8), 0.01, 20)
	in.DarkRate = dark.Metric("dark_current_e_per_s")
	if n := int(pick(0, 3, 5, 20, 60)); n > 0 {
		in.Dark, in.DarkFits = dark, true
		dark.Group = group("dark", n, exposure, 0)
	}
	if r.IntN(3) == 0 { // no darks at all
		in.Dark, in.DarkFits, in.Sets = nil, false, nil
		in.Found = &Found{Pattern: stats.Missing("hidden in the noise of the subs"), AtMost: pick(0.1, 1, 20), Subs: 12, Pixels: 24e6, Part: 0.1,
			Glow: SeenGlow{stats.Missing("cannot be told"), pick(0.1, 9), "left edge", 5000}}
		if r.IntN(2) == 0 {
			in.Found.Pattern = stats.Known(in.Found.AtMost/2, in.Found.AtMost/20, 12)
		}
	}
	return in
}

var bracket = regexp.MustCompile(`\([^()]*\)`)

// Whatever was weighed: the verdict's words are one of three, the sentence begins with them,
// has at most two clauses behind them, and says nothing against them.
func TestSentencesKeepToTheirVerdict(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	seen := map[Reason]int{}
	for range 250 {
		in := drawnInput(r)
		w := OfDarks(in)
		told := bracket.ReplaceAllString(w.Sentence, "")
		fault := ""
		of := func(wrong bool, what string) {
			if wrong && fault == "" {
				fault = what
			}
		}
		if w.Verdict == "" {
			of(w.Sentence != "" || w.Why == "", "no verdict needs its reason, and no sentence")
			if fault != "" {
				t.Errorf("%s: %+v", fault, w)
			}
			continue
		}
		seen[w.Reason]++
		worthIt := strings.HasPrefix(w.Verdict, "worth it: ")
		of(!worthIt && w.Verdict != "not worth it" && w.Verdict != "a defect map is enough", "verdict")
		of(worthIt != strings.HasPrefix(w.Sentence, "worth it") || !worthIt && !strings.HasPrefix(w.Sentence, w.Verdict+":"), "another verdict")
		of(worthIt != (w.Darks > 0), "darks to shoot")
		of(strings.Count(told, ";") > 1, "more than two clauses")
		of(strings.Contains(told, "NaN") || strings.Contains(told, "Inf"), "no number")
		first, second, _ := strings.Cut(told, ";")
		of(w.Reason == LessNoise && !strings.Contains(first, "lower the noise"), "worth it for no gain")
		of(w.Reason == NoGain && !strings.Contains(first, "use your") && w.BenefitPct.V >= WorthyBenefit, "a gain not worth it")
		of(strings.Contains(told, "use your") && strings.Contains(told, "raise the noise") && w.Reason != HotPixels, "use what raises the noise")
		of(w.AtHand == 0 && strings.Contains(told, "your"), "darks that are not there")
		of(w.Reason == Glow && strings.Contains(second, "lower the noise") && w.BenefitPct.V >= WorthyBenefit && w.MoreBiasPct < WorthyBenefit/2, "for the glow only, and for the noise")
		for _, b := range []Master{OfBias(in, w)} {
			of(b.Verdict == "not needed" && strings.Contains(told, "leave your"), "no bias beside darks that are left out")
		}
		if fault != "" {
			t.Errorf("%s: %q, %q", fault, w.Verdict, w.Sentence)
		}
	}
	for _, reason := range []Reason{LessNoise, Glow, HotPixels, NoGain, MoreBias} {
		if seen[reason] == 0 {
			t.Errorf("%q was never decided on: %v", reason, seen)
		}
	}
	t.Log(seen)
}
