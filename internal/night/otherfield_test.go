package night_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/subs"
)

// Two fields under one name, of other exposures: the stars tell them apart, and
// neither is held against the other.
func TestAnotherFieldUnderTheSameName(t *testing.T) {
	if testing.Short() {
		t.Skip("24 subs; TestLostSubOfAnotherSize parts lists of stars")
	}
	t.Parallel()
	sc := demo.Scenario{
		Name: "fields", Seed: 21, Width: 400, Height: 300, Bias: 3,
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}, {Name: "Nest 4", RA: 75, Dec: 5}},
		Blocks:  []demo.Block{{Target: 0, Filter: "L", Exposure: 60, Subs: 18}, {Target: 1, Filter: "L", Exposure: 90, Subs: 6}},
		Start:   time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
		Stars:   350, SkyMag: 19.5, Seeing: 3, DitherPx: 5,
	}
	r := underOneName(t, sc, "Heron Nebula")
	count := map[string]int{}
	for _, s := range r.Subs {
		count[string(s.Target)]++
		if s.Verdict != subs.Keep || !s.Align.Matched() {
			t.Errorf("%s: %s %v, tied %v: %v", s.File, s.Verdict, s.Causes, s.Align.Matched(), s.Findings)
		}
	}
	if count["Heron Nebula"] != 18 || count["Heron Nebula field 2"] != 6 || len(r.Verdicts.Groups) != 2 {
		t.Errorf("targets %v, %d groups", count, len(r.Verdicts.Groups))
	}
	if !strings.Contains(fmt.Sprint(r.Warnings), "other_field_subs(subs=6, target=Heron Nebula") {
		t.Errorf("%v", r.Warnings)
	}
}

// One lost sub and two of a third field are compared with nothing of the target's; a
// sub that cloud, a blow or lost focus keeps from being tied stays with its target.
func TestStraySubs(t *testing.T) {
	if testing.Short() {
		t.Skip("13 subs; TestCloudedSubsProveNoField has them as lists of stars")
	}
	t.Parallel()
	sc := demo.Scenario{
		Name: "strays", Seed: 22, Width: 400, Height: 300, Bias: 3,
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}, {Name: "Nest 4", RA: 75, Dec: 5}, {Name: "Tern 5", RA: 95, Dec: 15}},
		Blocks: []demo.Block{{Target: 0, Filter: "L", Exposure: 60, Subs: 10}, {Target: 1, Filter: "L", Exposure: 90, Subs: 1},
			{Target: 2, Filter: "L", Exposure: 120, Subs: 2}},
		Start: time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
		Stars: 350, SkyMag: 19.5, Seeing: 3, DitherPx: 5,
		Clouds: []demo.Cloud{{Span: demo.Span{First: 2, Last: 2}, Magnitudes: 3, Glow: 0.5}},
		Trails: []demo.Trail{{Span: demo.Span{First: 4, Last: 4}, Length: 40}},
		Drifts: []demo.Drift{{Span: demo.Span{First: 7, Last: 7}, Blur: 25}},
	}
	r := underOneName(t, sc, "Heron Nebula")
	count := map[string]int{}
	for i, s := range r.Subs {
		count[string(s.Target)]++
		spoilt := i == 2 || i == 4 || i == 7
		if (s.Verdict == subs.Keep) == spoilt {
			t.Errorf("%s: %s %v: %v", s.File, s.Verdict, s.Causes, s.Findings)
		}
	}
	if count["Heron Nebula"] != 10 || count["Heron Nebula field 2"] != 1 || count["Heron Nebula field 3"] != 2 {
		t.Errorf("targets %v: %v", count, r.Warnings)
	}
}
