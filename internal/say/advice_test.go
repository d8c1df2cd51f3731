package say

import (
	"math"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// exposed is advice of 120 to 240 s on subs of so many seconds.
func exposed(current float64) *plan.Exposure {
	return &plan.Exposure{Target: "Heron Nebula", Filter: "L", Group: "Heron Nebula L", Current: current, From: 120, To: 240, Gain: 0.6,
		Sky: stats.Known(0.5, 0.01, 20), SkyMag: stats.Missing("no zero point"), ReadNoise: stats.Known(1.5, 0.01, 20), ShareNow: stats.Known(0.2, 0.01, 20),
		Shortest: stats.Known(43.04, 0.1, 20), Gap: stats.Missing("no two subs in a row"), Saturating: stats.Missing("no star saturates"),
		SaturatedNow: stats.Missing("not counted"), TrailedShare: stats.Missing("none trailed"), Best: stats.Missing("none trailed"),
		ReadNoiseShare: 0.05, SaturatedShare: 0.01, Bandwidth: math.NaN()}
}

// spaced is a sentence with ordinary spaces and hyphens.
func spaced(s string) string { return strings.NewReplacer("\u00a0", " ", minus, "-").Replace(s) }

func TestExposureSentences(t *testing.T) {
	long := exposed(10)
	long.Gap = stats.Known(10, 1, 9)
	stay := exposed(120)
	stay.ShareNow = stats.Known(0.0231, 0.001, 20)
	trailed := exposed(300)
	trailed.TrailedShare, trailed.Best = stats.Known(0.18, 0.02, 40), stats.Known(150, math.NaN(), 40)
	within := exposed(150)
	within.TrailedShare, within.Best, within.Shortest = stats.Known(0.18, 0.02, 40), stats.Known(373, math.NaN(), 40), stats.Known(600, 1, 20)
	stars := exposed(240)
	stars.Saturating, stars.SaturatedNow = stats.Known(5.7, 0.1, 20), stats.Known(0.04, 0.01, 20)
	beyond := exposed(120)
	beyond.Saturating, beyond.SkyMag, beyond.Bortle = stats.Known(255, 1, 20), stats.Known(19.66, 0.1, 20), sky.Bortle{Lowest: 5, Highest: 5}
	for _, c := range []struct {
		e    *plan.Exposure
		want string
	}{
		{long, "Heron Nebula, L: expose longer, 120 to 240 s, for 60 % more signal to noise: at 10 s the read noise of 1.5 e- adds 20 % to the noise of this sky (0.5 e-/s a pixel), and 5 % at 43 s; the 10 s between subs take 50 % of the time."},
		{stay, "Heron Nebula, L: stay at 120 s (up to 240 s does as well): the read noise of 1.5 e- adds 2 % to the noise of this sky (0.5 e-/s a pixel)."},
		{exposed(600), "Heron Nebula, L: 120 to 240 s would do, 600 s gain nothing: read noise adds 5 % at 43 s, and a spoiled sub costs less."},
		{trailed, "Heron Nebula, L: expose shorter, 120 to 240 s: at 300 s 18 % of the subs trailed, and shorter ones lose less."},
		{within, "Heron Nebula, L: stay at 150 s (120 to 240 s do as well): the read noise of 1.5 e- adds 20 % to the noise of this sky (0.5 e-/s a pixel); 18 % of the subs trailed, which makes some 370 s the best."},
		{stars, "Heron Nebula, L: stay at 240 s (120 s and more do as well): the read noise of 1.5 e- adds 20 % to the noise of this sky (0.5 e-/s a pixel); 4 % of the stars saturate, so add some subs of 5 s if their colour matters."},
		{beyond, "Heron Nebula, L: stay at 120 s (up to 240 s does as well): the read noise of 1.5 e- adds 20 % to the noise of this sky (0.5 e-/s a pixel, 19.7 mag per square arcsecond, about Bortle 5); beyond 260 s more than 1 % of the stars saturate."},
	} {
		if got := spaced(Exposure(c.e)); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
	none := *exposed(60)
	none.Shortest = stats.Missing("sky in electrons is unknown: there is no bias frame")
	all := Advice(&plan.Plan{Exposures: []plan.Exposure{none, none}})
	if want := "No advice on the exposure of Heron Nebula L, Heron Nebula L: sky in electrons is unknown: there is no bias frame."; len(all) != 1 || all[0] != want {
		t.Errorf("%q", all)
	}
}

func TestGoalSentences(t *testing.T) {
	goal := func(filter string, hours, tonight, earlier, still, nights float64, done bool) *plan.Progress {
		return &plan.Progress{Goal: plan.Goal{Target: "Heron Nebula", Filter: "Ha", Hours: hours}, Tonight: stats.Known(tonight, 0, 1), Earlier: earlier,
			NeededTotal: stats.Known(hours, 0, 1), StillNeeded: stats.Known(still, 0, 1), Nights: stats.Known(nights, 0, 1), Done: done}
	}
	unknown := goal("Ha", 10, 2, 1, 7, 3.5, false)
	unknown.NeededTotal = stats.Missing("no zero point for this filter")
	under := goal("Ha", 4, 0, 0, 4, 2, false)
	under.NeverUp = true
	for want, g := range map[string]*plan.Progress{
		"Heron Nebula, Ha: nothing yet of the 4 h you want; it never rises here.":                                              under,
		"Heron Nebula, Ha: 3 h clear of the 10 h you want; 7 h to go, about 3.5 more nights like this.":                        goal("Ha", 10, 2, 1, 7, 3.5, false),
		"Heron Nebula, Ha: 2 h clear of the 2 h you want: the goal is reached; give the time to something else.":               goal("L", 2, 0, 2, 0, 0, true),
		"Heron Nebula, Ha: nothing yet of the 4 h you want, about 2 more nights like this.":                                    goal("OIII", 4, 0, 0, 4, 2, false),
		"Heron Nebula, Ha: the goal cannot be followed: no zero point for this filter.":                                        unknown,
		"Heron Nebula, Ha: 2 h clear these nights; hours of earlier nights unknown, and so what is left of the 10 h you want.": goal("Ha", 10, 2, math.NaN(), 7, 3.5, false),
	} {
		if got := spaced(Goal(g)); got != want {
			t.Errorf("%q\nwant %q", got, want)
		}
	}
	s := &plan.Standing{Target: "Heron Nebula", Earlier: true, Hours: []plan.FilterHours{{Filter: "Ha", Hours: 3.5}, {Filter: "", Hours: 1. / 6}}}
	if got := spaced(standing(s)); got != "Heron Nebula: with earlier nights Ha 3 h 30 min, no filter 10 min of clear sky." {
		t.Errorf("%q", got)
	}
	if s.Earlier = false; standing(s) != "" {
		t.Error("a standing of these nights alone is told")
	}
}

func TestNightSentence(t *testing.T) {
	n := &plan.Night{Date: "2025-02-03", Camera: "C1", Shot: 10800, ShotInDark: 10800, DarkHours: stats.Known(10.9, 0.1, 1), DarkShare: stats.Known(0.275, 0, 1),
		UnusedBefore: 3600, UnusedAfter: 30, Between: 350, Yields: []plan.Yield{{Target: "Heron Nebula", Filter: "Ha", Clear: 3000}},
		Pauses: []plan.Pause{{Start: evening, End: evening.Add(610e9), Reason: plan.MeridianFlip}, {Start: evening, End: evening.Add(1200e9), Reason: plan.FilterChange},
			{Start: evening, End: evening.Add(300e9), Reason: plan.FocusMoved}, {Start: evening, End: evening.Add(120e9)}}}
	want := "Night of 2025-02-03, C1: Heron Nebula Ha 50 min of clear sky; 3 h of the 10 h 54 min of darkness went into subs (28 %); 1 h passed before the first sub; " +
		"6 min went by between subs; pauses: 10 min at a meridian flip, 20 min at a change of filter, 5 min focusing, 2 min without a reason that the subs tell."
	if got := spaced(Night(n, true)); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
	n.Yields = append(n.Yields, plan.Yield{Target: "Heron Nebula", Clear: math.NaN()})
	if got, want := spaced(Night(n, true)), "C1: Heron Nebula Ha 50 min of clear sky, clear sky unknown for Heron Nebula no filter; "; !strings.Contains(got, want) {
		t.Errorf("%q does not say %q", got, want)
	}
}

func TestShoppingSentences(t *testing.T) {
	nan := math.NaN()
	dark := plan.Shopping{Kind: "dark", Frames: 30, Exposure: 300, TempC: -10, GainSetting: 100, OffsetSetting: 50, Binning: 1,
		Reason: plan.Reason{Lack: plan.NotFitting, AtHand: &calib.Fit{Kind: frames.Dark, Frames: 8, Mismatches: []calib.Mismatch{{Property: calib.OfTemperature, Frames: "0.0 °C", Subs: "-10.0 °C"}}}, Gain: plan.LessNoise, GainPct: 7}}
	glow, untold := dark, dark
	glow.Lack, glow.Gain, glow.GlowE = plan.NoneThere, plan.GlowOff, 3.14
	untold.AtHand, untold.Gain = nil, plan.Untold
	flat := plan.Shopping{Kind: "flat", Frames: 10, Have: 5, Exposure: nan, TempC: nan, GainSetting: nan, OffsetSetting: nan, Binning: 2,
		Reason: plan.Reason{Lack: plan.TooFew, Subs: 40}}
	for want, s := range map[string]plan.Shopping{
		"Shoot 30 darks at 300 s, -10 °C, gain 100, offset 50: 8 darks, not matching: temperature 0.0 °C, subs -10.0 °C; they lower the noise of the stack by 7 %.": dark,
		"Shoot 30 darks at 300 s, -10 °C, gain 100, offset 50: there are none; they take off a glow of 3.1 e-, or blur a master of five.":                           glow,
		"Shoot 30 darks at 300 s, -10 °C, gain 100, offset 50: those in the folder do not fit; with them it can be told whether darks are worth it.":                untold,
		"Shoot 10 more flats at binning 2: 5 are few for 40 subs; before camera, focus or filter are touched.":                                                      flat,
	} {
		if got := spaced(Shopping(&s)); got != want {
			t.Errorf("%q\nwant %q", got, want)
		}
	}
}

// Groups of one filter share sentences: each is said once.
func TestAdviceIsSaidOnce(t *testing.T) {
	if got := once([]string{"a", "b", "a", "c", "b"}); strings.Join(got, "") != "abc" {
		t.Errorf("%q", got)
	}
}

// Of a night whose target was lost half-way every sub is good by itself; that they show
// another field stands among what to do in the morning.
func TestLostTargetIsTold(t *testing.T) {
	r := &night.Result{Warnings: []fact.Fact{fact.Of(night.OtherFieldSubs, fact.Count("subs", 5), fact.Text("target", "Field"), fact.Text("as", "Field field 2"))}}
	if got := strings.Join(elsewhere(r), "\n"); !strings.Contains(got, "5 subs named Field show another field") {
		t.Error(got)
	}
	r.Warnings = nil
	if got := strings.Join(elsewhere(r), "\n"); strings.Contains(got, "another field") {
		t.Error(got)
	}
}
