package ledger

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

func fresh(t *testing.T) (*Ledger, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "some", "folder", "ledger.db")
	l, err := Open(context.Background(), file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l, file
}

func record(t *testing.T, l *Ledger, r Record) {
	t.Helper()
	if err := l.Record(context.Background(), r); err != nil {
		t.Fatal(err)
	}
}

func hours(t *testing.T, l *Ledger) []Hours {
	t.Helper()
	list, err := l.Hours(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// block is a run of subs of one simulated night.
type block struct {
	target, filter names.Name
	exposure       float64 // s
	subs, culled   int
	weight         float64 // of those not culled
}

// season is five invented nights; its sums were done by hand, see TestSeasonAddsUp.
var season = [][]block{
	{{"Heron Nebula", "Ha", 300, 24, 4, 1}, {"Heron Nebula", "OIII", 300, 12, 0, 0.5}},
	{{"Heron Nebula", "Ha", 300, 36, 6, 0.8}},
	{{"Otter Cluster", "L", 60, 90, 10, 0.75}, {"Otter Cluster", "R", 60, 30, 0, 1}},
	{{"heron nebula", "Ha", 600, 12, 2, 0.9}, {"Otter Cluster", "L", 60, 40, 0, 0.5}},
	{{"Heron Nebula", "OIII", 300, 20, 20, 0}, {"Otter Cluster", "R", 60, 7, 1, 0.5}},
}

var balcony = &sky.Site{Lat: 50, Lon: 10, Elevation: 200}

// result is night i of the season as the pipeline would give it: subs from the
// evening over midnight, every exposure followed by a pause of 7 s.
func result(i int) *night.Result {
	nan := math.NaN()
	at := time.Date(2025, 2, 3+7*i, 19, 40, 0, 0, time.UTC)
	r := &night.Result{Settings: night.DefaultSettings()}
	r.Settings.Site = balcony
	for _, b := range season[i] {
		for n := range b.subs {
			s := &subs.Sub{
				File: fmt.Sprintf("%d/%s_%s_%03d.fits", i, b.target, b.filter, n), Camera: "C1", Target: b.target, Filter: b.filter,
				Start: at, Exposure: b.exposure, PixelScale: 0.776, Verdict: subs.Keep, Weight: stats.Known(b.weight, nan, 1),
				Field: &stars.Field{FWHM: stats.Known(3+0.1*float64(i), 0.05, 100)}, SkyRate: stats.Known(0.5+0.1*float64(i), 0.01, 1),
			}
			if n < b.culled {
				s.Verdict, s.Causes = subs.Cull, []subs.Cause{subs.Cloud}
			}
			r.Subs = append(r.Subs, &night.Sub{Sub: s, Frame: &frames.Frame{Meta: frames.NoMeta()}})
			at = at.Add(time.Duration(b.exposure+7) * time.Second)
		}
	}
	return r
}

// TestSeasonAddsUp: whatever way the nights are recorded, the sums are those of
// the table above, to the minute and in fact to the second.
func TestSeasonAddsUp(t *testing.T) {
	l, _ := fresh(t)
	for i := range season {
		record(t, l, Of(result(i)))
	}
	check := func(when string) {
		t.Helper()
		totals := Totals(hours(t, l))
		want := []struct {
			target, filter      names.Name
			subs, nights        int
			shot, usable, clear float64 // min
		}{
			// 24×5 + 36×5 + 12×10; 20×5 + 30×5 + 10×10; 100 + 150×.8 + 100×.9
			{"Heron Nebula", "Ha", 72, 3, 420, 350, 310},
			// 12×5 + 20×5; 60; 30
			{"Heron Nebula", "OIII", 32, 2, 160, 60, 30},
			// 90 + 40; 80 + 40; 60 + 20
			{"Otter Cluster", "L", 130, 2, 130, 120, 80},
			// 30 + 7; 30 + 6; 30 + 3
			{"Otter Cluster", "R", 37, 2, 37, 36, 33},
		}
		if len(totals) != len(want) {
			t.Fatalf("%s: %d lines: %+v", when, len(totals), totals)
		}
		for i, w := range want {
			got := totals[i]
			name := fmt.Sprintf("%s: %s %s", when, w.target, w.filter)
			if got.Target != w.target || got.Filter != w.filter || got.Subs != w.subs || got.Nights != w.nights {
				t.Errorf("%s: %+v", name, got)
			}
			within(t, name+" shot", got.Shot, w.shot*60, 1e-6)
			within(t, name+" usable", got.Usable, w.usable*60, 1e-6)
			within(t, name+" clear", got.Clear, w.clear*60, 1e-6)
		}
		if totals[0].First != "2025-02-03" || totals[0].Last != "2025-02-24" {
			t.Errorf("%s: dates %s to %s", when, totals[0].First, totals[0].Last)
		}
	}
	check("once")

	for i := range season {
		record(t, l, Of(result(i)))
	}
	check("again")

	for i := range season { // in two halves, as two folders of one night would be
		rec := Of(result(i))
		half := len(rec.Subs) / 3
		record(t, l, Record{Subs: rec.Subs[half:]})
		record(t, l, Record{Subs: rec.Subs[:half]})
	}
	check("in halves")

	all := Record{} // the whole season in one tree
	for i := range season {
		all.Subs = append(all.Subs, Of(result(i)).Subs...)
	}
	record(t, l, all)
	check("in one tree")
}

// A run with other verdicts, or another name for the target, replaces what was there.
func TestRerunReplaces(t *testing.T) {
	l, _ := fresh(t)
	record(t, l, Of(result(0)))
	again := result(0)
	for _, s := range again.Subs {
		s.Target, s.Verdict, s.File = "Gannet Nebula", subs.Cull, "moved/"+s.File
	}
	record(t, l, Of(again))
	for _, h := range hours(t, l) {
		if h.Target != "Gannet Nebula" || h.Usable != 0 || h.Clear != 0 || h.Shot == 0 {
			t.Errorf("%+v", h)
		}
	}
}

func TestOf(t *testing.T) {
	r := result(0)
	r.Subs[0].DuplicateOf = "another.fits"
	r.Subs[1].Start = time.Time{}
	r.Subs[2].Weight = stats.Missing("could not be read")
	r.Subs[2].Field = nil
	r.Subs[2].SkyRate = stats.Missing("could not be read")
	r.Plan = &plan.Plan{Exposures: []plan.Exposure{{Group: "", SkyMag: stats.Known(19, 0, 1), SkyArcsec: stats.Known(1, 0, 1)}}}
	rec := Of(r)
	if len(rec.Subs) != 35 {
		t.Fatalf("%d subs, want all but the duplicate", len(rec.Subs))
	}
	s := rec.Subs[5]
	if s.Night != "2025-02-03" || s.Lat != 50 || s.File != "Heron Nebula_Ha_006.fits" {
		t.Errorf("%+v", s)
	}
	within(t, "FWHM", s.FWHM, 3*0.776, 1e-12)
	within(t, "sky", s.Sky, 0.5/(0.776*0.776), 1e-12)
	within(t, "sky mag", s.SkyMag, 19-2.5*math.Log10(0.5/(0.776*0.776)), 1e-12)
	if !math.IsNaN(rec.Subs[1].FWHM) || !math.IsNaN(rec.Subs[1].Sky) || !math.IsNaN(rec.Subs[1].Weight) {
		t.Errorf("unreadable: %+v", rec.Subs[1])
	}
	l, _ := fresh(t)
	record(t, l, rec)
	n := 0
	for _, h := range hours(t, l) {
		n += h.Subs
	}
	if n != 34 {
		t.Errorf("%d subs recorded, want all that have a time", n)
	}
}

// Subs shorter than the second that their headers count in share a start.
func TestSubsWithinOneSecond(t *testing.T) {
	l, _ := fresh(t)
	start := time.Date(2025, 2, 3, 20, 0, 0, 0, time.UTC)
	var rec Record
	for range 4 {
		rec.Subs = append(rec.Subs, Sub{Camera: "C1", Start: start, Night: "2025-02-03", Target: "X", Filter: "L", Exposure: 0.25, Verdict: "keep", Weight: 1})
	}
	for range 2 {
		record(t, l, rec)
	}
	if h := hours(t, l); len(h) != 1 || h[0].Subs != 4 || h[0].Shot != 1 {
		t.Errorf("%+v", h)
	}
}

func TestEarlierFeedsThePlan(t *testing.T) {
	l, _ := fresh(t)
	record(t, l, Of(result(0)))
	record(t, l, Of(result(1)))
	earlier, err := l.Earlier(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	want := []plan.Earlier{
		{Date: "2025-02-03", Camera: "C1", Target: "Heron Nebula", Filter: "Ha", ClearSeconds: 6000},
		{Date: "2025-02-10", Camera: "C1", Target: "Heron Nebula", Filter: "Ha", ClearSeconds: 7200},
		{Date: "2025-02-03", Camera: "C1", Target: "Heron Nebula", Filter: "OIII", ClearSeconds: 1800},
	}
	if fmt.Sprint(earlier) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", earlier, want)
	}
}

func TestForget(t *testing.T) {
	l, _ := fresh(t)
	record(t, l, Of(result(0)))
	record(t, l, Of(result(1)))
	n, err := l.Forget(context.Background(), "2025-02-03")
	if err != nil || n != 36 {
		t.Errorf("%d rows, %v", n, err)
	}
	if h := hours(t, l); len(h) != 1 || h[0].Night != "2025-02-10" {
		t.Errorf("%+v", h)
	}
}

func TestSites(t *testing.T) {
	l, _ := fresh(t)
	for i := range season {
		r := result(i)
		if i == 4 { // a few subs from another place, and the poorest seeing
			r.Settings.Site = &sky.Site{Lat: 47, Lon: 11}
		}
		record(t, l, Of(r))
	}
	best, err := l.Sites(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	find := func(lat float64, filter string) Best {
		for _, b := range best {
			if b.Lat == lat && b.Filter == names.Name(filter) {
				return b
			}
		}
		t.Fatalf("no %v %s in %+v", lat, filter, best)
		return Best{}
	}
	ha := find(50, "Ha")
	within(t, "FWHM", ha.FWHM, 3*0.776, 1e-9)
	within(t, "sky", ha.Sky, 0.5/(0.776*0.776), 1e-9)
	if ha.FWHMNight != "2025-02-03" || ha.Nights != 3 || !math.IsNaN(ha.SkyMag) {
		t.Errorf("%+v", ha)
	}
	within(t, "night by night", ha.All[0].FWHM, ha.FWHM, 1e-9)
	if len(ha.All) != 3 || ha.AllMag.Subs != 0 || !math.IsNaN(ha.AllMag.Median) {
		t.Errorf("%+v", ha)
	}
	within(t, "L, first shot in the third night", find(50, "L").FWHM, 3.2*0.776, 1e-9)
	within(t, "elsewhere", find(47, "R").FWHM, 3.4*0.776, 1e-9)
}

func TestFigures(t *testing.T) {
	meta := frames.NoMeta()
	meta.Start = time.Date(2025, 2, 4, 1, 0, 0, 0, time.UTC)
	group := &frames.Group{Kind: frames.Dark, GainSetting: 100, OffsetSetting: math.NaN(), SetTemp: -10.2, Exposure: 300, BinX: 2, BinY: 2,
		Frames: []*frames.Frame{{Meta: meta}}}
	var sets []*sensor.Set
	for _, kind := range []string{sensor.KindDark, sensor.KindCamera, sensor.KindBias} {
		s := sensor.NewSet(kind, "one frame only")
		s.Camera, s.Measured = "C1", true
		sets = append(sets, s)
	}
	sets[0].Group, sets[2].Group = group, &frames.Group{Frames: []*frames.Frame{{Meta: frames.NoMeta()}}}
	sets[0].Dark.Current.Value = stats.Known(0.01, 0.001, 5)
	sets[0].Dark.GlowX.Value = stats.Known(100, 1, 5)
	sets[2].Bias.Offset.Value = stats.Known(500, 0.1, 5)
	r := &night.Result{Settings: night.DefaultSettings(), Calib: &calib.Result{Sets: sets}}
	// No site in the settings: a sub's header tells that 01:00 UTC is the afternoon of
	// the 4th, 12 hours east of Greenwich.
	here := frames.NoMeta()
	here.SiteLat, here.SiteLon = 20, 179
	r.Subs = []*night.Sub{{Sub: &subs.Sub{}, Frame: &frames.Frame{Meta: here}}}
	got := Of(r).Figures
	want := []Figure{{"C1", "2025-02-04", "dark_current_e_per_s", "gain 100, -10 °C, 300 s, binning 2x2", "e-/s", 0.01, 0.001, 5}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// The spread is of single subs: the best tenth of widths and rates is the lowest, of
// magnitudes the highest.
func TestSiteSpread(t *testing.T) {
	l, _ := fresh(t)
	var rec Record
	nan := math.NaN()
	for i := range 101 {
		x := float64(i)
		rec.Subs = append(rec.Subs, Sub{Camera: "C1", Start: time.Date(2025, 2, 3, 20, i, 0, 0, time.UTC), Night: "2025-02-03", Target: "A", Filter: "L", Exposure: 60,
			Verdict: "keep", FWHM: 2 + x/100, Sky: 1 + x/50, SkyMag: 20 + x/100, Lat: 50, Lon: 10, Weight: 1, RA: nan, Dec: nan, Scale: nan, Level: nan, Depth: nan, Zero: nan, Ellipticity: nan, Noise: nan})
	}
	record(t, l, rec)
	best, err := l.Sites(context.Background())
	if err != nil || len(best) != 1 {
		t.Fatal(best, err)
	}
	for _, c := range []struct {
		got                   Spread
		name                  string
		median, best, oneStep float64
	}{{best[0].AllFWHM, "FWHM", 2.5, 2.1, 0.01}, {best[0].AllSky, "sky", 2, 1.2, 0.02}, {best[0].AllMag, "mag", 20.5, 20.9, 0.01}} {
		within(t, c.name, c.got.Median, c.median, 1e-9)
		within(t, c.name+", best tenth", c.got.Best, c.best, c.oneStep)
	}
}
