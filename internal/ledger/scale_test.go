package ledger_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// written makes a night of one target without real stars: the season's scale needs no
// catalogue.
func written(t *testing.T, at time.Time, seed uint64, haze float64) string {
	t.Helper()
	const n = 8
	sc := demo.Scenario{
		Name: "season", Seed: seed, Width: 600, Height: 450,
		Bias: 5, Darks: []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 3}}, FlatLevels: []float64{0.25, 0.5},
		Targets: []demo.Target{{Name: "Ibis Cloud", RA: 310, Dec: 40}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 60, Subs: n}},
		Start:   at, Stars: 1500, SkyMag: 19.5, Seeing: 3, DitherPx: 9,
	}
	if haze > 0 {
		sc.Clouds = []demo.Cloud{{Span: demo.Span{First: 0, Last: n - 1}, Magnitudes: haze, Flat: true}}
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	return dir
}

func checked(t *testing.T, s night.Season, dirs ...string) *night.Result {
	t.Helper()
	settings := night.DefaultSettings()
	settings.Season = s
	r, err := night.Run(context.Background(), dirs, settings, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// hazyClear is the clear time of the subs of one evening, in s of the season's best.
func hazyClear(r *night.Result, after time.Time) (clear float64) {
	for _, s := range r.Subs {
		if s.Start.After(after) && s.Verdict.Usable() && s.Weight.OK() {
			clear += s.Exposure * s.SeasonWeight()
		}
	}
	return clear
}

// A whole night of even haze, which by itself looks clear, is worth the same alone, with
// the ledger of the clear night before it, and together with that night.
func TestEvenHazeIsWorthTheSameAloneAndTogether(t *testing.T) {
	if testing.Short() {
		t.Skip("two nights, measured three times; season_test.go has figures without frames")
	}
	t.Parallel()
	first, second := time.Date(2025, 8, 20, 23, 30, 0, 0, time.UTC), time.Date(2025, 8, 21, 23, 26, 0, 0, time.UTC)
	// The same seed: the same sky and camera. Each night draws other noise by its times.
	const haze = 0.75
	clearDir, hazyDir := written(t, first, 5, 0), written(t, second, 5, haze)

	l, err := ledger.Open(context.Background(), filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	best := checked(t, night.Season{}, clearDir)
	if err := l.Record(context.Background(), ledger.Of(best)); err != nil {
		t.Fatal(err)
	}
	season, err := l.Season(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	alone := checked(t, season, hazyDir)
	together := checked(t, night.Season{}, clearDir, hazyDir)

	a, b := hazyClear(alone, second.Add(-time.Hour)), hazyClear(together, second.Add(-time.Hour))
	t.Logf("alone %.1f s, together %.1f s; season %+v", a, b, alone.Verdicts.Groups[0].Season)
	if !(math.Abs(a/b-1) <= 0.05) {
		t.Errorf("the hazy night is worth %.1f s alone and %.1f s together", a, b)
	}
	// By its physics: transmission squared; the sky is as bright, so that noise is nearly
	// the same. 6 % holds what stars' photons and the air's wanderings change of it.
	want := 8 * 60 * math.Pow(10, -0.8*haze)
	if !(math.Abs(a/want-1) <= 0.06) {
		t.Errorf("the hazy night is worth %.1f s, want %.1f", a, want)
	}
	first0, alone0 := best.Verdicts.Groups[0].Season, alone.Verdicts.Groups[0].Season
	if alone0.Reference != first0.Reference || alone0.Reference == "" || !(math.Abs(alone0.Level.V/first0.Level.V-math.Pow(10, -0.4*haze)) < 0.01) {
		t.Errorf("light %+v by %q beside %+v by %q", alone0.Level, alone0.Reference, first0.Level, first0.Reference)
	}
	for _, s := range alone.Subs {
		if !(math.Abs(s.SeasonTransparency.V-math.Pow(10, -0.4*haze)) < 0.03) {
			t.Errorf("%s: season transparency %+v", s.File, s.SeasonTransparency)
		}
		// The seeing was the same: ratios to the sharpest quarter of eight lie about 1.
		if !(math.Abs(s.SeasonFWHM.V-1) < 0.1) || s.SeasonFWHM.Err > 0.05 {
			t.Errorf("%s: season FWHM %+v", s.File, s.SeasonFWHM)
		}
		if want := s.SeasonWeight(); !(math.Abs(s.SeasonalWeight.V-want) < 1e-9) || want > 0.4 {
			t.Errorf("%s: season weight %+v, want %.3f", s.File, s.SeasonalWeight, want)
		}
	}
	for _, r := range []*night.Result{alone, together} {
		for _, s := range r.Subs {
			if s.Verdict == subs.Cull {
				t.Errorf("%s is culled: %v", s.File, s.Findings)
			}
		}
	}
	if err := l.Record(context.Background(), ledger.Of(alone)); err != nil {
		t.Fatal(err)
	}
	hours, err := l.Hours(context.Background())
	if err != nil || len(hours) != 2 {
		t.Fatal(hours, err)
	}
	if !(math.Abs(hours[1].Clear/a-1) <= 0.01) {
		t.Errorf("the ledger counts %.1f s, the night %.1f", hours[1].Clear, a)
	}
}

// A target's first night has no other to be held against; the set-up's clearest air, on
// whatever target, tells that it was hazy, and goes on telling when it is checked again.
func TestFirstNightOfATargetGoesByTheSetup(t *testing.T) {
	if testing.Short() {
		t.Skip("three nights under the real sky, as the test above")
	}
	t.Parallel()
	const haze = 0.6
	starry := func(target demo.Target, at time.Time, haze float64) string {
		sc := demo.Scenario{
			Name: "first", Seed: 8, Width: 900, Height: 700,
			Bias: 5, Darks: []demo.DarkSet{{TempC: -10, Exposure: 60, Frames: 3}}, FlatLevels: []float64{0.25, 0.5},
			Lens: &demo.Lens{FocalMM: 250, ApertureMM: 40}, Targets: []demo.Target{target},
			Blocks: []demo.Block{{Filter: "L", Exposure: 60, Subs: 5}},
			Start:  at, Stars: 2500, SkyMag: 19.5, Seeing: 8, DitherPx: 9,
		}
		if haze > 0 {
			sc.Clouds = []demo.Cloud{{Span: demo.Span{First: 0, Last: 4}, Magnitudes: haze, Flat: true}}
		}
		dir := filepath.Join(t.TempDir(), "night")
		if _, err := demo.Write(t.Context(), dir, sc, nil); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	clearDir := starry(demo.Target{Name: "Ibis Cloud", RA: 310, Dec: 40, Real: true}, time.Date(2025, 8, 20, 23, 30, 0, 0, time.UTC), 0)
	// Lower, so that the air's own share has to be told from the haze.
	hazyDir := starry(demo.Target{Name: "Otter Cluster", RA: 285, Dec: 5, Real: true}, time.Date(2025, 8, 22, 0, 30, 0, 0, time.UTC), haze)
	l, err := ledger.Open(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if err := l.Record(t.Context(), ledger.Of(checked(t, night.Season{}, clearDir))); err != nil {
		t.Fatal(err)
	}
	for _, run := range []string{"first", "again"} {
		season, err := l.Season(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		r := checked(t, season, hazyDir)
		g := r.Verdicts.Groups[0]
		// 0.04: fluxes of some 20 catalogue stars on two nights, and 0.3 airmass.
		light := math.Pow(10, -0.4*haze)
		if !(math.Abs(g.Season.Light.V/light-1) < 0.04) || !(math.Abs(g.Season.Share.V/(light*light)-1) < 0.08) {
			t.Errorf("%s: light %+v, want %.3f; share %+v; throughput %+v", run, g.Season.Light, light, g.Season.Share, g.Season.Throughput)
		}
		if err := l.Record(t.Context(), ledger.Of(r)); err != nil {
			t.Fatal(err)
		}
		hours, err := l.Hours(t.Context())
		if err != nil || len(hours) != 2 || !(math.Abs(hours[1].Clear/g.Season.Clear.V-1) <= 0.01) {
			t.Errorf("%s: the ledger has %+v, the night %+v; %v", run, hours, g.Season.Clear, err)
		}
	}
}
