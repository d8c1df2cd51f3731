package night_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/demo"
	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/sky"
)

func shortNight(t *testing.T, cloudless int) string {
	t.Helper()
	sc := demo.Scenario{
		Name: "clocks", Seed: 9, Width: 320, Height: 240, Bias: 3,
		Targets: []demo.Target{{Name: "Heron Nebula", RA: 85, Dec: 24}},
		Blocks:  []demo.Block{{Filter: "L", Exposure: 300, Subs: cloudless}},
		Start:   time.Date(2025, 10, 21, 0, 30, 0, 0, time.UTC),
		Stars:   256, SkyMag: 19.5, Seeing: 3, DitherPx: 4,
	}
	dir := filepath.Join(t.TempDir(), "night")
	if _, err := demo.Write(context.Background(), dir, sc, nil); err != nil {
		t.Fatal(err)
	}
	return dir
}

func check(t *testing.T, dir string) *night.Result {
	t.Helper()
	r, err := night.Run(context.Background(), []string{dir}, night.DefaultSettings(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// One night however its clock and site are written: alike to the minute, to 0.01°
// of place, and in all that rests on them.
func TestClocksAndSitesComeOutAlike(t *testing.T) {
	t.Parallel()
	dir := shortNight(t, 8)
	want := check(t, dir)
	site := want.NightSite()
	if site == nil || len(want.First) > 0 {
		t.Fatalf("the night as it is: site %v, %v", site, want.Warnings)
	}
	const layout = "2006-01-02T15:04:05"
	zone := time.Duration(math.Round(site.Lon/15)+1) * time.Hour // summer time
	utc := func(start time.Time) string { return "'" + start.Format(layout) + "'" }
	local := func(start time.Time) string { return "'" + start.Add(zone).Format(layout) + "'" }
	zoneText := time.Date(2000, 1, 1, 0, 0, 0, 0, time.FixedZone("", int(zone.Seconds()))).Format("-0700")
	letters := func(x float64, plus, minus string) string {
		if x < 0 {
			plus, x = minus, -x
		}
		return fmt.Sprintf("'%.4f %s'", x, plus)
	}
	minutes := func(x float64) string {
		sign := ""
		if x < 0 {
			sign, x = "-", -x
		}
		d, m := math.Modf(x)
		return fmt.Sprintf("'%s%.0fd %.3fm'", sign, d, 60*m)
	}
	lat, lon := fmt.Sprintf("%.5f", site.Lat), fmt.Sprintf("%.5f", site.Lon)
	for _, c := range []struct {
		name             string
		lat, lon         string
		start            func(time.Time) string
		extra, extraText string
	}{
		{name: "west positive", lat: lat, lon: fmt.Sprintf("%.5f", -site.Lon), start: utc},
		{name: "local clock", lat: lat, lon: lon, start: local},
		{name: "local clock and zone", lat: lat, lon: lon, start: func(s time.Time) string {
			return strings.TrimSuffix(local(s), "'") + zoneText + "'"
		}},
		{name: "local clock and a card of its zone", lat: lat, lon: lon, start: local, extra: "TIMEZONE", extraText: fmt.Sprintf("%g", zone.Hours())},
		{name: "hemisphere letters", lat: letters(site.Lat, "N", "S"), lon: letters(site.Lon, "E", "W"), start: utc},
		{name: "degrees and minutes", lat: minutes(site.Lat), lon: minutes(site.Lon), start: utc},
	} {
		if testing.Short() && c.extra == "" {
			continue
		}
		starts := map[string]time.Time{}
		for _, f := range want.Frames {
			starts[f.Path] = f.Meta.Start
		}
		for path, start := range starts {
			cards := map[string]string{"SITELAT": c.lat, "SITELONG": c.lon, "DATE-OBS": c.start(start), "TIMEZONE": ""}
			if c.extra != "" {
				cards[c.extra] = c.extraText
			}
			setCards(t, path, cards)
		}
		got := check(t, dir)
		if len(got.First) > 0 || len(got.Impossible) > 0 {
			t.Errorf("%s: withheld: %v", c.name, got.First)
			continue
		}
		for i, s := range got.Subs {
			w := want.Subs[i]
			at, place := got.SiteOf(s.Frame), want.SiteOf(w.Frame)
			if s.File != w.File || s.Start.Sub(w.Start).Abs() > time.Minute || at == nil ||
				math.Abs(at.Lat-place.Lat) > 0.01 || !(math.Abs(at.Lon-place.Lon) <= 0.01) ||
				math.Abs(s.Sky.SunAlt.V-w.Sky.SunAlt.V) > 0.05 || !(math.Abs(s.Sky.Airmass.V-w.Sky.Airmass.V) <= 0.01) || s.Verdict != w.Verdict {
				t.Errorf("%s: %s at %v from %+v, Sun %.2f, airmass %.3f, %s; want %v from %+v, Sun %.2f, airmass %.3f, %s (%v)", c.name, s.File, s.Start, at,
					s.Sky.SunAlt.V, s.Sky.Airmass.V, s.Verdict, w.Start, place, w.Sky.SunAlt.V, w.Sky.Airmass.V, w.Verdict, got.Warnings)
				break
			}
		}
	}
}

// A night that no clock and no sign explains: every figure that rests on time and
// place is withheld, and that is said first.
func TestImpossibleTimesWithholdFigures(t *testing.T) {
	t.Parallel()
	dir := shortNight(t, 6)
	for i, path := range lightsIn(t, dir) {
		// Stars at all hours of the day, and no claim.
		start := time.Date(2025, 10, 21, 4*i, 0, 0, 0, time.UTC)
		setCards(t, path, map[string]string{"DATE-OBS": "'" + start.Format("2006-01-02T15:04:05") + "'", "AIRMASS": ""})
	}
	r := check(t, dir)
	if len(r.First) != 1 || r.First[0].Code != sky.TimesImpossible || r.NightSite() != nil {
		t.Fatalf("first: %v, site %v", r.First, r.NightSite())
	}
	for _, s := range r.Subs {
		for name, v := range map[string]bool{"Sun": s.Sky.SunAlt.OK(), "Moon": s.Sky.MoonLitPct.OK(), "airmass": s.Sky.Airmass.OK()} {
			if v {
				t.Errorf("%s: %s is not withheld", s.File, name)
			}
		}
	}
	for _, e := range r.Extinctions {
		if e.K.OK() {
			t.Error("an extinction")
		}
	}
	if len(r.Twilight)+len(r.MoonUp) > 0 {
		t.Error("twilight or Moon")
	}
}

// Without a site the header's own airmass is used.
func TestHeaderAirmass(t *testing.T) {
	t.Parallel()
	dir := shortNight(t, 5)
	for i, path := range lightsIn(t, dir) {
		setCards(t, path, map[string]string{"SITELAT": "", "SITELONG": "", "AIRMASS": fmt.Sprintf("%.2f", 1.5-0.02*float64(i))})
	}
	r := check(t, dir)
	for i, s := range r.Subs {
		if !(math.Abs(s.Sky.Airmass.V-(1.5-0.02*float64(i))) <= 1e-9) {
			t.Errorf("%s: airmass %v", s.File, s.Sky.Airmass.V)
		}
	}
	if !slices.ContainsFunc(r.Warnings, func(f fact.Fact) bool { return f.Code == night.AirmassOfHeader && f.Values[0].Number == 5 }) {
		t.Errorf("%v", r.Warnings)
	}
}
