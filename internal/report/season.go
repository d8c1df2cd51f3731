package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"fitsqa/internal/ledger"
	"fitsqa/internal/names"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
)

// Season is what the ledger holds, for a page.
type Season struct {
	Hours  []ledger.Hours // as Ledger.Hours sorts them
	Health []ledger.Series
	Sites  []ledger.Best
}

var seasonScripts = []string{"uplot/uPlot.iife.min.js", "js/elements.js", "js/theme.js", "js/season.js"}

// seasonPage is what its template shows; texts are plain.
type seasonPage struct {
	pageFrame
	Title    string
	Facts    string
	Warnings []string
	Totals   []totalRow
	Figures  []healthRow
	Sites    []siteRow
	Charts   []seasonChart
}

type totalRow struct {
	Target, Filter      string
	Nights, Subs        int
	First, Last         string
	Shot, Usable, Clear string
}

type healthRow struct {
	Camera, Metric, Setting string
	Times                   int
	First, Latest, Night    string
}

type siteRow struct {
	Place, Filter                              string
	Nights                                     int
	FWHM, BestFWHM, Sky, BestSky, Mag, BestMag string
}

type seasonChart struct {
	Part   string         `json:"part"`
	Title  string         `json:"title"`
	Low    real           `json:"low"`    // of the axis; null: as the figures are
	Nights []int64        `json:"nights"` // Unix time of the date, s
	Series []seasonSeries `json:"series"`
}

type seasonSeries struct {
	Name   string `json:"name"`
	Values []real `json:"values"`
	Errors []real `json:"errors"` // null: none is known
}

// SeasonHTML writes the page of a season: one file that needs no network.
func SeasonHTML(w io.Writer, s Season) error {
	p := seasonPage{pageFrame: newPageFrame(seasonScripts, false), Title: "The season", Facts: s.facts()}
	for _, h := range s.Health {
		if changed := say.Changed(&h); changed != "" {
			p.Warnings = append(p.Warnings, changed)
		}
		first, last := h.Points[0], h.Points[len(h.Points)-1]
		p.Figures = append(p.Figures, healthRow{orNone(h.Camera, "(none)"), figureTitle(h.Metric), orNone(h.Setting, "(none)"), len(h.Points), first.String(), last.String() + " " + h.Unit, last.Night})
	}
	for _, t := range ledger.Totals(s.Hours) {
		p.Totals = append(p.Totals, totalRow{orNone(t.Target, "(no target)"), orNone(t.Filter, "(none)"), t.Nights, t.Subs, t.First, t.Last, hours(t.Shot), hours(t.Usable), hours(t.Clear)})
	}
	for _, b := range s.Sites {
		p.Sites = append(p.Sites, siteRow{siteWords(b), orNone(b.Filter, "(none)"), b.Nights, decimals(b.AllFWHM.Median, 2), decimals(b.AllFWHM.Best, 2),
			decimals(b.AllSky.Median, 3), decimals(b.AllSky.Best, 3), decimals(b.AllMag.Median, 2), decimals(b.AllMag.Best, 2)})
	}
	p.Charts = slices.Concat(s.hourCharts(), s.cameraCharts(), s.siteCharts())
	return pageTemplate.ExecuteTemplate(w, "season.tmpl", p)
}

func (s Season) facts() string {
	nights := map[string]bool{}
	first, last := "", ""
	for _, h := range s.Hours {
		nights[h.Night] = true
		if first == "" || h.Night < first {
			first = h.Night
		}
		last = max(last, h.Night)
	}
	switch len(nights) {
	case 0:
		return "No night yet"
	case 1:
		return "The night of " + first
	}
	return fmt.Sprintf("%d nights from %s to %s", len(nights), first, last)
}

func figureTitle(metric string) string {
	for _, kind := range []string{"bias", "dark", "flat", "camera"} {
		for _, d := range sensor.Definitions(kind) {
			if d.Name == metric {
				return d.Title
			}
		}
	}
	return metric
}

// hourCharts are a chart a target: how its hours grew, filter by filter.
func (s Season) hourCharts() (charts []seasonChart) {
	for _, g := range ledger.Growths(s.Hours) {
		c := seasonChart{Part: "hours", Title: "Usable hours of " + orNone(g.Target, "(no target)"), Low: 0}
		for _, night := range g.Nights {
			c.Nights = append(c.Nights, dayOf(night))
		}
		for _, f := range g.Filters {
			one := seasonSeries{Name: orNone(f.Filter, "(none)")}
			for _, h := range f.Usable {
				one.Values = append(one.Values, real(h))
			}
			c.Series = append(c.Series, one)
		}
		charts = append(charts, c)
	}
	return charts
}

func (s Season) cameraCharts() (charts []seasonChart) {
	for _, h := range s.Health {
		if len(h.Points) < 2 {
			continue
		}
		c := seasonChart{Part: "cameras", Title: fmt.Sprintf("%s, %s of %s (%s)", figureTitle(h.Metric), orNone(names.Name(h.Unit), "number"), orNone(h.Camera, "(none)"), orNone(h.Setting, "no setting")), Low: real(math.NaN())}
		one := seasonSeries{Name: figureTitle(h.Metric)}
		for _, p := range h.Points {
			c.Nights = append(c.Nights, dayOf(p.Night))
			one.Values, one.Errors = append(one.Values, real(p.Value)), append(one.Errors, real(p.Uncertainty))
		}
		c.Series = []seasonSeries{one}
		charts = append(charts, c)
	}
	return charts
}

// siteCharts are two charts a site: seeing and sky, night by night, in magnitudes
// where those are known.
func (s Season) siteCharts() (charts []seasonChart) {
	for i := 0; i < len(s.Sites); {
		j := i + 1
		for j < len(s.Sites) && siteWords(s.Sites[j]) == siteWords(s.Sites[i]) {
			j++
		}
		site, here := s.Sites[i:j], siteWords(s.Sites[i])
		charts = append(charts, siteChart("FWHM at "+here+", ″", site, func(n ledger.SiteNight) float64 { return n.FWHM }),
			siteChart("Sky at "+here+", e-/s/″²", site, func(n ledger.SiteNight) float64 { return n.Sky }),
			siteChart("Sky at "+here+", mag/″²", site, func(n ledger.SiteNight) float64 { return n.SkyMag }))
		i = j
	}
	return slices.DeleteFunc(charts, func(c seasonChart) bool { return len(c.Series) == 0 })
}

// siteChart is one figure of a site's filters; those that never have it are left out.
func siteChart(title string, site []ledger.Best, of func(ledger.SiteNight) float64) seasonChart {
	c := seasonChart{Part: "sites", Title: title, Low: real(math.NaN())}
	for _, b := range site {
		for _, n := range b.All {
			c.Nights = append(c.Nights, dayOf(n.Night))
		}
	}
	slices.Sort(c.Nights)
	c.Nights = slices.Compact(c.Nights)
	for _, b := range site {
		one := seasonSeries{Name: orNone(b.Filter, "(none)"), Values: make([]real, len(c.Nights))}
		for i := range one.Values {
			one.Values[i] = real(math.NaN())
		}
		known := false
		for _, n := range b.All {
			i, _ := slices.BinarySearch(c.Nights, dayOf(n.Night))
			one.Values[i] = real(of(n))
			known = known || !math.IsNaN(of(n))
		}
		if known {
			c.Series = append(c.Series, one)
		}
	}
	return c
}

// dayOf is the Unix time of a date; 0 of what is none.
func dayOf(date string) int64 {
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return 0
	}
	return day.Unix()
}

func siteWords(b ledger.Best) string {
	if math.IsNaN(b.Lat) {
		return "an unknown site"
	}
	return fmt.Sprintf("%.2f°, %.2f°", b.Lat, b.Lon)
}
