package say

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/calib"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/worth"
)

// What spoils frames until it is mended stands on the first screen, and so do frames of two
// kinds, which no more of them would mend.
func TestSpoiltCalibrationIsTold(t *testing.T) {
	mixed := fact.Of(stack.KindsMixed, fact.Count("low", 7), fact.Number("low_adu", 305), fact.Count("high", 5), fact.Number("high_adu", 462))
	bias := &calib.Fit{Kind: frames.Bias, Unusable: mixed}
	lit := *bias
	lit.Unusable = fact.Of(sensor.NoneRead)
	low := &sensor.Set{Label: "bias", Warnings: []fact.Fact{fact.Of(sensor.OffsetLow, fact.Number("cut_pct", 23), fact.Number("enough_adu", 17)), fact.Of(sensor.GlowSeen)}}
	r := &night.Result{
		Calib: &calib.Result{Sets: []*sensor.Set{low}, Coverage: []calib.Coverage{{Dark: calib.Match{Fit: calib.Fit{Kind: frames.Dark, Unusable: mixed}}}}},
		Plan: &plan.Plan{Shopping: []plan.Shopping{
			{Kind: "bias", Frames: 20, Reason: plan.Reason{Lack: plan.NotFitting, AtHand: bias}},
			{Kind: "bias", Frames: 30, Reason: plan.Reason{Lack: plan.NotFitting, AtHand: &lit}},
		}},
	}
	got := calibration(r)
	want := []string{"Bias: offset too low: 23 %", "No usable darks: two kinds", "No usable bias frames: two kinds", "No usable bias frames: "}
	end := []string{"17 ADU.", "take one kind out.", "take one kind out.", "; shoot 30."}
	for i, text := range got {
		if len(got) != len(want) || !strings.HasPrefix(text, want[i]) || !strings.HasSuffix(text, end[i]) {
			t.Errorf("%d of %d: %q", i, len(got), text)
		}
	}
}

// One filter is not told of as several, and no filter is none.
func TestFlatsThatLack(t *testing.T) {
	for _, c := range []struct {
		filters []string
		want    string
	}{
		{[]string{""}, "No flats fit: shoot 15 before camera, focus or filter are touched."},
		{[]string{"L"}, "No flats fit for L: shoot 15 before camera, focus or filter are touched."},
		{[]string{"", "L"}, "No flats fit for L and no filter: shoot 15 each before camera, focus or filter are touched."},
	} {
		if got := flatless(c.filters, 15); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if got := begun("the dust moved"); got != "The dust moved" {
		t.Error(got)
	}
}

// Frames that there are for other subs are told with what they lack: none fit some of the
// night's, not all of it.
func TestFramesForOtherSubsAreTold(t *testing.T) {
	at := func(p calib.Property, mine, theirs string) plan.Reason {
		return plan.Reason{Lack: plan.NotFitting, AtHand: &calib.Fit{Frames: 15, Mismatches: []calib.Mismatch{{Property: p, Frames: mine, Subs: theirs}}}}
	}
	none := math.NaN()
	got := missing([]plan.Shopping{
		{Kind: "flat", Frames: 15, Reason: at(calib.OfFilter, "L", "unknown")},
		{Kind: "bias", Frames: 20, GainSetting: 0, Exposure: none, TempC: none, OffsetSetting: none, Reason: at(calib.OfGain, "100", "0")},
		{Kind: "dark", Frames: 10, Reason: plan.Reason{Lack: plan.NoneThere, Gain: plan.Untold}},
		{Kind: "dark", Frames: 30, Reason: plan.Reason{Lack: plan.NoneThere, Gain: plan.LessNoise}}, // said of their worth
	})
	want := []string{"No flats fit for no filter: shoot 15 before", "No darks fit: 10 would tell whether", "Shoot 20 bias frames at gain 0: 15 "}
	for i, text := range got {
		if len(got) != len(want) || !strings.HasPrefix(text, want[i]) {
			t.Errorf("%d of %d: %q", i, len(got), text)
		}
	}
}

// Who has masters alone is told what they do not tell, and nothing where all was weighed.
func TestMastersAlone(t *testing.T) {
	master := calib.Coverage{Flat: calib.Match{Fit: calib.Fit{Kind: frames.Flat, Frames: 1, Fits: true, Master: true}}}
	lacking := worth.Answer{Label: "L", Lacks: fact.Of(worth.NoReadNoise, fact.Reason(fact.Of(sensor.NoBiasFrames)))}
	for _, c := range []struct {
		answer worth.Answer
		cover  calib.Coverage
		want   int
	}{{lacking, master, 1}, {lacking, calib.Coverage{}, 0}, {worth.Answer{Label: "L", Reason: worth.LessNoise}, master, 0}} {
		r := &night.Result{Worth: []worth.Answer{c.answer}, Calib: &calib.Result{Coverage: []calib.Coverage{c.cover}}}
		said := slices.DeleteFunc(calibration(r), func(text string) bool { return !strings.HasPrefix(text, "Masters tell neither") })
		if len(said) != c.want {
			t.Errorf("%+v: %q", c.cover, said)
		}
	}
}
