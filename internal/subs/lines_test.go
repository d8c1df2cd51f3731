package subs

import (
	"math"
	"testing"

	"fitsqa/internal/stats"
)

// Every line separates what the judge itself would say of that figure alone.
func TestLinesAreTheJudges(t *testing.T) {
	night := makeNight(3, "R", 20, func(i int, tr *truth) {})
	res := Judge(night, DefaultLimits)
	g := res.Groups[0]
	at := map[string]Line{}
	for _, l := range g.Lines(DefaultLimits) {
		at[l.Figure] = l
	}
	for _, c := range []struct {
		factor float64
		want   Verdict
	}{{0.99, Keep}, {1.01, Doubtful}} {
		again := makeNight(3, "R", 20, func(i int, tr *truth) {})
		again[7].Field.FWHM = stats.Known(c.factor*at["fwhm_px"].Doubtful, 0.01, 200)
		Judge(again, DefaultLimits)
		if again[7].Verdict != c.want {
			t.Errorf("FWHM at %.2f of the line: %s, want %s (%s)", c.factor, again[7].Verdict, c.want, told(again[7]))
		}
	}
	if l := at["sky_e_per_s"]; !math.IsNaN(l.Cull) && math.Abs(l.Cull/l.Doubtful-DefaultLimits.SkyCull/DefaultLimits.SkyDoubtful) > 1e-9 {
		t.Errorf("sky lines %+v", l)
	}
	small := &Group{Baseline: newBaseline(nil, nil, nil)}
	for _, l := range small.Lines(DefaultLimits) {
		if l.Figure == "fwhm_px" && !math.IsNaN(l.Cull) {
			t.Errorf("a group without a baseline has the line %+v", l)
		}
	}
}
