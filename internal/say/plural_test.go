package say

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

const (
	adjective = `(?:clear|combined|dead|doubtful|dust|hot|measured|more|stray|unsaturated)`
	noun      = `(?:bias frame|byte|dark|day|detection|exposure|file|flat|frame|header|night|pair|pixel|point|shadow|star|streak|sub|temperature)`
	counted   = `(?:` + adjective + ` )?` + noun
)

var (
	oneMany = regexp.MustCompile(`(?:^|[^\d.,+−-])1 ` + counted + `s\b`)
	manyOne = regexp.MustCompile(`(?:^|[^\d.,+−-])[02] ` + counted + `\b`)
	oneAre  = regexp.MustCompile(`(?:^|[^\d.,+−-])1(?: ` + counted + `)?(?: (?:of|with) \w+(?: \w+)?)? (?:are|have|were|do|lie|agree|overlap|claim|move|stay|fill|add|change|lower|raise|hold)\b`)
	ofAll   = regexp.MustCompile(` of (?:the target's )?\d+(?: ` + counted + `s?\b)?`) // what a number is part of does not bend its verb
)

// wrongNumber is what in a sentence is one and many at once; "" for nothing.
func wrongNumber(text string) string {
	text = strings.ReplaceAll(text, "\u00a0", " ")
	return oneMany.FindString(text) + manyOne.FindString(text) + oneAre.FindString(ofAll.ReplaceAllString(text, ""))
}

func TestWrongNumberIsSeen(t *testing.T) {
	for _, wrong := range []string{"1 subs are soft", "your 1 darks", "2 frame left out", "1 bias frames", "1 of 3 subs have", "your 1 add 3 %", "0 hot pixel", "1 points of light", "1 of 2 subs with stars are impossible"} {
		if wrongNumber(wrong) == "" {
			t.Errorf("%q passes", wrong)
		}
	}
	for _, right := range []string{"1 sub is soft", "21 subs are soft", "1 of 3 subs has", "2 frames left out", "0 subs", "1 star: the others are hot", "0.1 stars", "7 of 1 sub have", "1 sub with stars"} {
		if found := wrongNumber(right); found != "" {
			t.Errorf("%q: %q", right, found)
		}
	}
}

// Limits of several at least, and sizes of frames: phrases are not asked of one of these.
var neverOne = regexp.MustCompile(`needed|fewest|(width|height)_px`)

// Every phrase is right for none, one and two of what it counts, each count by itself and
// all alike.
func TestPhrasesOfOneAndMany(t *testing.T) {
	for code, phrase := range phrases {
		places := placeholder.FindAllStringSubmatch(phrase, -1)
		for _, p := range places {
			if strings.HasPrefix(p[2], "?") && strings.Count(p[2], ":") != 1 {
				t.Errorf("%s: %q is not one and many", code, p[2])
			}
		}
		for only := -1; only < len(places); only++ {
			for n := range 3 {
				var values []fact.Value
				for i, p := range places {
					x := n
					if only >= 0 && i != only || neverOne.MatchString(p[1]) {
						x = 7
					}
					values = append(values, fact.Value{Name: p[1], Number: float64(x), Text: "T"})
				}
				if text := Fact(fact.Of(code, values...)); wrongNumber(text) != "" {
					t.Errorf("%s: %q in %q", code, wrongNumber(text), text)
				}
			}
		}
	}
}

// So are the sentences that are made otherwise.
func TestSentencesOfOneAndMany(t *testing.T) {
	say := func(n int, what, text string) {
		t.Helper()
		if found := wrongNumber(text); found != "" || strings.TrimSpace(text) == "" {
			t.Errorf("%s of %d: %q in %q", what, n, found, text)
		}
	}
	for n := range 3 {
		for _, pct := range []float64{-8, 0, 8} {
			for _, reason := range []worth.Reason{worth.LessNoise, worth.Glow, worth.HotPixels, worth.NoGain, worth.MoreBias} {
				for _, atHand := range []int{0, n} {
					w := worth.Answer{Reason: reason, Darks: n, Weighed: max(1, n), AtHand: atHand, BenefitPct: stats.Known(pct, 1, 5), AtHandPct: stats.Known(pct, 1, 5),
						MoreBias: max(1, n), MoreBiasPct: pct, HotMatter: true, Without: worth.Case{HotScatter: float64(n), Glow: 2}, GlowPct: stats.Known(3, 1, 5), GlowPlace: sensor.Left}
					say(n, "darks", Darks(&w)+", "+DarksVerdict(&w))
				}
			}
		}
		for _, doubt := range []worth.Doubt{worth.PatternInDoubt, worth.GlowInDoubt, worth.BenefitInDoubt} {
			say(n, "doubt", DarksOpen(&worth.Answer{Doubt: doubt, DoubtE: 3, Weighed: n, BenefitPct: stats.Known(8, 1, 5)}))
		}
		for _, verdict := range []worth.Sufficiency{worth.Enough, worth.MoreWouldHelp, worth.NotNeeded} {
			for _, kind := range []string{"bias", "flat"} {
				say(n, kind, Master(&worth.Master{Kind: kind, Verdict: verdict, Have: n, Darks: max(1, n), Suffices: n, Most: max(1, n), HavePct: stats.Known(1, 0, 1)}))
			}
		}
		say(n, "library", Library(&worth.Library{Verdict: worth.StillValid, Known: n, Gone: n, New: n}))
		for _, f := range []calib.Fit{{Frames: n}, {Frames: n, Count: n, Fits: true}, {Frames: 7, Count: n, Fits: true}, {Frames: 1, Count: n, Master: true, Fits: true}, {Frames: n, Unusable: fact.Of("code")}} {
			f.Kind = frames.Bias
			say(n, "fit", Fit(&f))
		}
		for _, kind := range []string{"bias", "dark", "flat"} {
			say(n, "shopping", Shopping(&plan.Shopping{Kind: kind, Frames: n, Have: n, Reason: plan.Reason{Lack: plan.TooFew, Subs: n}}))
		}
		say(n, "event", Event(subs.Event{Cause: subs.Cloud, Subs: n}))
		say(n, "odd files", strings.Join(OfFiles([]night.OddFiles{{Files: n, Kind: frames.Bias, First: "a.fits"}}), ""))
		for _, cause := range []subs.Cause{subs.Soft, subs.Trailed, subs.Cloud, subs.Unreadable, subs.Duplicate, subs.WrongSettings} {
			for _, verdict := range []subs.Verdict{subs.Doubtful, subs.Cull, subs.NotJudged} {
				var all []*night.Sub
				for i := range max(1, n) {
					all = append(all, made(5*i, verdict, cause))
				}
				answer := Of(of(all...), "out")
				say(n, "first screen", fmt.Sprint(answer))
			}
		}
		e := &subs.Economics{Stacked: 3, Plain: []float64{1}, Scaled: []float64{1, 1, 1}, Weighted: []float64{1}, FWHM: []float64{math.NaN()}, UserDrop: n, BestDrop: n, UserPlain: 1, UserScaled: 1, UserWeighted: 1}
		say(n, "economics", Economics(e))
		say(n, "goal", Goal(&plan.Progress{NeededTotal: stats.Known(3, 0, 1), Nights: stats.Known(float64(n), 0, 1)}))
		say(n, "night", Night(&plan.Night{Date: "2025-02-03", Shot: float64(3600 * n)}, true))
	}
}
