package watch

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"fitsqa/internal/cache"
	"fitsqa/internal/demo"
	"fitsqa/internal/night"
)

// replay feeds a night sub by sub and gives the alarms that each one raises.
func replay(t *testing.T, dir string, truth *demo.Truth, s night.Settings) [][]Alert {
	t.Helper()
	f, err := night.NewFollow([]string{dir}, s)
	if err != nil {
		t.Fatal(err)
	}
	lights := map[string]bool{}
	for _, sub := range truth.Subs {
		lights[path(dir, sub)] = true
	}
	var calibration []string
	if err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !lights[p] {
			calibration = append(calibration, p)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if subs, err := f.Read(t.Context(), calibration); err != nil || len(subs) > 0 {
		t.Fatal(subs, err)
	}
	var a alarms
	var raised [][]Alert
	for _, sub := range truth.Subs {
		subs, err := f.Read(t.Context(), []string{path(dir, sub)})
		if err != nil || len(subs) != 1 {
			t.Fatal(subs, err)
		}
		if err := f.Measure(t.Context(), subs[0]); err != nil {
			t.Fatal(err)
		}
		raised = append(raised, a.ofSub(alertsOf(f.Judge(), s.Limits)))
	}
	return raised
}

// Every trouble is told within two subs, focus before a sub is lost to it, and
// nothing is told where nothing is wrong.
func TestAlarmsOfNights(t *testing.T) {
	type event struct {
		kind  Kind
		first int // sub
		last  int // by which it must be told
	}
	subs := func(n int) []demo.Block { return []demo.Block{{Filter: "L", Exposure: 60, Subs: n}} }
	trouble := demo.Scenario{Bias: 3, Blocks: subs(38),
		Trails:  []demo.Trail{{Span: demo.Span{First: 7, Last: 8}, Length: 8, Angle: 30}},
		Doubles: []demo.Double{{Span: demo.Span{First: 12, Last: 12}, Share: 0.3, DX: 14, DY: -8}},
		Clouds:  []demo.Cloud{{Span: demo.Span{First: 16, Last: 18}, Magnitudes: 2, Uneven: 0.3, Glow: 1, Flat: true}},
		Drifts:  []demo.Drift{{Span: demo.Span{First: 22, Last: 37}, Blur: 5.5}},
	}
	for _, c := range []struct {
		name  string
		night demo.Scenario
		want  []event
	}{
		{"clear", demo.Scenario{Bias: 3, Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 9}, {Filter: "R", Exposure: 60, Subs: 6}}, Streaks: []int{3}}, nil},
		{"trouble", trouble, []event{{Trailing, 7, 8}, {Doubled, 12, 13}, {Cloud, 16, 17}, {Focus, 23, 33}}},
		{"dew", demo.Scenario{Bias: 3, Blocks: subs(20), Dews: []demo.Dew{{Span: demo.Span{First: 6, Last: 19}, Magnitudes: 1.3}}}, []event{{Dew, 9, 15}}},
		{"warm", demo.Scenario{Bias: 3, Blocks: subs(6), Sensor: &demo.Cooling{FromC: -10, ToC: -5, SetC: -10}}, []event{{Sensor, 3, 4}}},
	} {
		if testing.Short() && c.name == "trouble" { // 38 subs; alarms_test.go has each of its kinds
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir, truth := small(t, c.night)
			var got []event
			s := night.DefaultSettings()
			s.Cache, _ = cache.Open(t.TempDir())
			for i, list := range replay(t, dir, truth, s) {
				for _, a := range list {
					got = append(got, event{a.Kind, i, i})
					t.Logf("%d %s: %s (%+v)", i, a.Kind, a.What, truth.Subs[i].Causes)
				}
				for _, w := range c.want {
					if s := truth.Subs[i]; w.first > i && w.kind != Dew && s.Class == demo.Spoiled && slices.Contains(s.Causes, map[Kind]string{Cloud: "cloud", Trailing: "trailed"}[w.kind]) {
						t.Fatalf("the test is wrong: sub %d has %v", i, s.Causes)
					}
				}
			}
			if len(got) != len(c.want) {
				t.Errorf("%v", got)
			}
			for i, w := range c.want {
				if i < len(got) && (got[i].kind != w.kind || got[i].first < w.first || got[i].first > w.last) {
					t.Errorf("%v, want %v", got[i], w)
				}
			}
			measuredOnce(t, dir, len(truth.Subs), s)
		})
	}
}

// Stars and sky that lose their light alike, as where the header tells too long an exposure,
// are no cloud while the night runs either.
func TestShortExposureIsNoCloud(t *testing.T) {
	block := func(exposure float64, n int) demo.Block { return demo.Block{Filter: "L", Exposure: exposure, Subs: n} }
	dir, truth := small(t, demo.Scenario{Bias: 3, Blocks: []demo.Block{block(120, 8), block(40, 1), block(120, 2)}})
	file := path(dir, truth.Subs[8])
	frame, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(frame, []byte("EXPTIME ="))
	copy(frame[at:], fmt.Sprintf("%-80s", "EXPTIME =                120.0"))
	if err := os.WriteFile(file, frame, 0o644); err != nil {
		t.Fatal(err)
	}
	for i, list := range replay(t, dir, truth, night.DefaultSettings()) {
		if want := i == 8; want != (len(list) == 1) || want && list[0].Kind != Obstructed {
			t.Errorf("sub %d: %+v", i, list)
		}
	}
}

// measuredOnce tells whether a run over the whole night measures subs again: they would
// take as much room in the cache once more. What ties them takes little.
func measuredOnce(t *testing.T, dir string, subs int, s night.Settings) {
	t.Helper()
	entries, before := s.Cache.Use()
	if entries < subs {
		t.Errorf("%d subs left %d entries", subs, entries)
	}
	if _, err := night.Run(t.Context(), []string{dir}, s, nil); err != nil {
		t.Fatal(err)
	}
	if _, after := s.Cache.Use(); after-before > before/4 {
		t.Errorf("%d subs, a run over them adds %d bytes to %d", subs, after-before, before)
	}
}
