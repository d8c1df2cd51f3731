package report

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/browser"
	"fitsqa/internal/ledger"
	"fitsqa/internal/names"
)

// someSeason is two targets, a camera that changed, and a site with two filters; a
// name of it would be markup.
func someSeason() Season {
	nan := math.NaN()
	hours := func(target, filter names.Name, night string, usable float64) ledger.Hours {
		return ledger.Hours{Target: target, Filter: filter, Night: night, Camera: "C1", Subs: 10, Shot: 3600 * usable, Usable: 3600 * usable, Clear: 3000 * usable}
	}
	site := func(filter names.Name, fwhm float64) ledger.Best {
		return ledger.Best{Lat: 41, Lon: -38, Filter: filter, Nights: 2, AllFWHM: ledger.Spread{Subs: 30, Median: fwhm, Best: fwhm - 0.4}, AllSky: ledger.Spread{Subs: 30, Median: 0.2, Best: 0.1}, AllMag: ledger.Spread{Median: nan, Best: nan},
			All: []ledger.SiteNight{{Night: "2025-02-03", FWHM: fwhm, Sky: 0.2, SkyMag: nan}, {Night: "2025-03-03", FWHM: fwhm + 0.3, Sky: nan, SkyMag: nan}}}
	}
	return Season{
		Hours: []ledger.Hours{hours("Heron Nebula", "Ha", "2025-02-03", 2), hours("Heron Nebula", "Ha", "2025-03-03", 1.5), hours("Heron Nebula", "L", "2025-03-03", 0.5),
			hours("<img src=x onerror=alert(1)>", "</script><b>", "2025-03-03", 1)},
		Health: []ledger.Series{{Camera: "C1", Metric: "read_noise_e", Setting: "gain 100", Unit: "e-", Change: &ledger.Change{Before: ledger.Point{Value: 1.5}, Latest: ledger.Point{Value: 1.8, Night: "2025-08-11"}, Limit: 0.05},
			Points: []ledger.Point{{Night: "2025-02-03", Value: 2.05, Uncertainty: 0.02}, {Night: "2025-03-03", Value: 2.21, Uncertainty: 0.01}}}},
		Sites: []ledger.Best{site("Ha", 2.4), site("L", 2.9)},
	}
}

// The sums up to each night, filter by filter, and what every chart holds.
func TestSeasonCharts(t *testing.T) {
	s := someSeason()
	charts := append(append(s.hourCharts(), s.cameraCharts()...), s.siteCharts()...)
	var got []string
	for _, c := range charts {
		for _, one := range c.Series {
			got = append(got, fmt.Sprintf("%s | %s %v", c.Title, one.Name, one.Values))
		}
	}
	want := []string{
		"Usable hours of Heron Nebula | Ha [2 3.5]", "Usable hours of Heron Nebula | L [0 0.5]", "Usable hours of <img src=x onerror=alert(1)> | </script><b> [1]",
		"Read noise, e- of C1 (gain 100) | Read noise [2.05 2.21]",
		"FWHM at 41.00°, -38.00°, ″ | Ha [2.4 2.6999999999999997]", "FWHM at 41.00°, -38.00°, ″ | L [2.9 3.1999999999999997]",
		"Sky at 41.00°, -38.00°, e-/s/″² | Ha [0.2 NaN]", "Sky at 41.00°, -38.00°, e-/s/″² | L [0.2 NaN]",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// The page draws its charts without a network, shows names as text, and axe-core's
// rules find nothing, in every appearance; nothing spills over the width of a phone.
func TestBrowserSeason(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestSeasonCharts holds its charts to the nights")
	}
	rules, err := os.ReadFile("testdata/axe/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := SeasonHTML(&b, someSeason()); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "season.html")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	p := browser.Open(t, "file://"+path, 400, 800)
	browser.Expect(p, `document.querySelectorAll(".charts canvas").length`, 5)
	browser.Expect(p, `document.images.length + document.querySelectorAll("b").length`, 0)
	browser.Expect(p, `document.documentElement.scrollWidth <= innerWidth`, true)
	p.Run(string(rules))
	for _, theme := range []string{"light", "dark", "red"} {
		p.Run(fmt.Sprintf("theme.set(%q)", theme))
		for _, found := range browser.Value[[]string](p, `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v => v.id + ": " + v.nodes.map(n => n.html.slice(0, 160) + n.failureSummary).join("; ")))`) {
			t.Errorf("%s: %s", theme, found)
		}
	}
	p.Quiet()
}
