package night

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// shot is a night of subs of 300 s every 5 minutes, whose pointing moves by x and y
// px and turns by turn degrees from sub to sub; every other one is dithered by
// 2 dither px along x.
func shot(n int, dec, x, y, turn, dither float64) []*Sub {
	var all []*Sub
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	for i := range n {
		meta := frames.NoMeta()
		meta.Dec = dec
		k := float64(i)
		all = append(all, &Sub{Frame: &frames.Frame{Meta: meta}, Sub: &subs.Sub{
			File: fmt.Sprintf("sub_%d", i), Target: "X", Exposure: 300, Width: 3000, Height: 4000,
			Start: start.Add(time.Duration(i) * 5 * time.Minute), Field: &stars.Field{Count: 100},
			Align: registration.Alignment{
				ShiftX: stats.Known(x*k+dither*float64(i%2*2), 0.02, 50), ShiftY: stats.Known(y*k, 0.02, 50),
				RotationDeg: stats.Known(turn*k+0.0005*float64(i%3), 0.002, 50),
			},
		}})
	}
	return all
}

func TestMotionReport(t *testing.T) {
	has := func(m MotionReport, want fact.Code) bool { return fact.Has(m.Findings, want) }
	still := newMotionReport(shot(30, 40, 0.02, 0, 0, 4))
	if len(still.Findings) > 0 {
		t.Errorf("a dithered, well guided night: %v", still.Findings)
	}
	if drifting := newMotionReport(shot(30, 40, 0.5, 0, 0, 0.3)); !has(drifting, DriftBeyondDither) {
		t.Errorf("6 px/h of drift and no dither: %v", drifting.Findings)
	}
	if dithered := newMotionReport(shot(30, 40, 0.5, 0, 0, 4)); has(dithered, DriftBeyondDither) {
		t.Errorf("6 px/h of drift in a dither of 4 px: %v", dithered.Findings)
	}

	// 0.06 °/h at 40° declination: 0.06 cos 40° / 0.2625 = 0.1751° = 10.5'.
	turning := newMotionReport(shot(30, 40, 0, 0, 0.005, 4))
	if !(math.Abs(turning.PolarError.V-10.5) <= 0.1) || !has(turning, PolarAxisFarOff) {
		t.Errorf("polar error %.2f ± %.2f': %v", turning.PolarError.V, turning.PolarError.Err, turning.Findings)
	}
	// 0.005° over the half diagonal of 2500 px is 0.22 px.
	if !(math.Abs(turning.CornerTrail.V-0.218) <= 0.003) || !strings.Contains(fmt.Sprint(turning.Findings), "trail=corner_hardly, trail_px=0.2") {
		t.Errorf("corner trail %.3f px: %v", turning.CornerTrail.V, turning.Findings)
	}
	if fast := newMotionReport(shot(30, 40, 0, 0, 1, 4)); !has(fast, TurnsLikeAltAz) || !strings.Contains(fmt.Sprint(fast.Findings), "trail=corner_trails, trail_px=43.6") {
		t.Errorf("12 °/h: %v", fast.Findings)
	}
	if near := newMotionReport(shot(30, 89.9, 0, 0, 0.05, 4)); near.PolarError.OK() || !has(near, FieldTurns) {
		t.Errorf("at the pole: %v, %v", near.PolarError, near.Findings)
	}
	if unknown := newMotionReport(shot(30, math.NaN(), 0, 0, 0.005, 4)); unknown.PolarError.OK() || unknown.PolarError.Why.Code == "" || len(unknown.Findings) > 0 {
		t.Errorf("unknown declination: %v, %v", unknown.PolarError, unknown.Findings)
	}

	odd := shot(30, 40, 0, 0, 0, 4)
	for i := 20; i < 30; i++ {
		odd[i].Align.ShiftX.V += 90
	}
	missing := stats.Missing("no match")
	for _, i := range []int{3, 7} {
		odd[i].Align = registration.Alignment{ShiftX: missing, ShiftY: missing, RotationDeg: missing}
	}
	odd[3].Findings = []subs.Finding{{Cause: subs.FewStars, Verdict: subs.Cull, Facts: []fact.Fact{fact.Of(subs.PointingLost, fact.Count("stars", 90))}}}
	m := newMotionReport(odd)
	if fmt.Sprint(m.Jumped) != "[sub_20]" || !has(m, PointingJumped) {
		t.Errorf("jumps %v: %v", m.Jumped, m.Findings)
	}
	// What cannot be tied is lost where it is judged so: it may be under cloud.
	if fmt.Sprint(m.Lost) != "[sub_3]" || !has(m, FieldsForeign) {
		t.Errorf("lost %v: %v", m.Lost, m.Findings)
	}
}

func TestSomeNames(t *testing.T) {
	if got := fact.Of("some", some([]string{"a", "b\x1b", "c", "d", "e"})...).String(); !strings.HasPrefix(got, "some(files=a, b") || strings.Contains(got, "\x1b") || !strings.HasSuffix(got, ", c, more=2)") {
		t.Errorf("%s", got)
	}
	if got := fact.Of("some", some([]string{"a"})...).String(); got != "some(files=a, more=0)" {
		t.Errorf("%s", got)
	}
}
