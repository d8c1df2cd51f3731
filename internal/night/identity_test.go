package night_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fitsqa/internal/demo"
	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/report"
)

// Two cameras at one target, every third sub spelt otherwise: all that is known
// of the night must be what it is with one spelling, the clouded subs held
// against the clear ones.
func TestSpellingsAreOneNight(t *testing.T) {
	if testing.Short() {
		t.Skip("measures 64 subs")
	}
	t.Parallel()
	sc := demo.Scenario{
		Name: "spelt", Seed: 7, Width: 320, Height: 240,
		Bias: 4, Darks: []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 3}}, FlatLevels: []float64{0.4},
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: 32}},
		Start:   time.Date(2025, 10, 21, 3, 40, 0, 0, time.UTC),
		Stars:   224, SkyMag: 19.5, Seeing: 3, DitherPx: 6,
		Clouds: []demo.Cloud{
			{Span: demo.Span{First: 6, Last: 9}, Magnitudes: 1.5, Uneven: 0.2, Glow: 0.8, Flat: true},
			{Span: demo.Span{First: 24, Last: 27}, Magnitudes: 1.5, Uneven: 0.2, Glow: 0.8, Flat: true},
		},
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	cameras := [2][3]string{{"Lumen 1600", "LUMEN 1600", "lumen_1600"}, {"Lumen 900", "lumen 900", "Lumen-900"}}
	spell := func(variants bool) {
		for i, path := range lightsIn(t, dir) {
			k := 0
			if variants {
				k = i % 16 % 3
			}
			setCards(t, path, map[string]string{
				"OBJECT":   "'" + [3]string{"Heron Nebula", "heron nebula", "Heron_Nebula"}[k] + "'",
				"FILTER":   "'" + [3]string{"L", "l", " L"}[k] + "'",
				"INSTRUME": "'" + cameras[i/16][k] + "'",
			})
		}
	}
	run := func() (*night.Result, map[string]string) {
		s := night.DefaultSettings()
		s.Plan.Goals = []plan.Goal{{Target: "heron-nebula", Filter: "l", Hours: 4}}
		r, err := night.Run(context.Background(), []string{dir}, s, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Finished = sc.Start
		for _, f := range r.Frames {
			f.ModTime = sc.Start // the headers are rewritten in between
		}
		out := t.TempDir()
		if err := report.WriteAll(context.Background(), out, r); err != nil {
			t.Fatal(err)
		}
		files := map[string]string{}
		for _, name := range []string{"subs.csv", "calibration.csv", "report.txt", "night.json"} {
			b, err := os.ReadFile(filepath.Join(out, name))
			if err != nil {
				t.Fatal(err)
			}
			files[name] = string(b)
		}
		return r, files
	}
	spell(false)
	plain, want := run()
	spell(true)
	mixed, got := run()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("reports of one and of three spellings (-one +three):\n%s", diff)
	}
	if n := len(mixed.Verdicts.Groups); n != 2 {
		t.Errorf("%d groups, want one a camera", n)
	}
	if len(mixed.Plan.Yields) != 1 || mixed.Plan.Yields[0].Subs != 32 || mixed.Plan.Goals[0].Tonight.N != 32 {
		t.Errorf("yields %+v, goal %+v", mixed.Plan.Yields, mixed.Plan.Goals)
	}
	if diff := cmp.Diff(hours(t, plain), hours(t, mixed)); diff != "" {
		t.Errorf("ledger (-one +three):\n%s", diff)
	}
}

// hours is what a ledger holds after a run.
func hours(t *testing.T, r *night.Result) string {
	t.Helper()
	l, err := ledger.Open(context.Background(), filepath.Join(t.TempDir(), "ledger"))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if err := l.Record(context.Background(), ledger.Of(r)); err != nil {
		t.Fatal(err)
	}
	list, err := l.Hours(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%+v", list)
}
