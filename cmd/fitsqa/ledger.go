package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/ledger"
	"fitsqa/internal/names"
	"fitsqa/internal/report"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

const ledgerAbout = `
Shows what "fitsqa check" recorded over the season: hours per target and filter,
the camera's health with a warning where a figure changed beyond its
uncertainty, and the best that each site gave. Clear hours are how long the best
sky of the season would have taken for the same stack.
`

type ledgerOptions struct {
	path   string
	nights int
	csv    string
	html   string
	forget string
}

type season struct {
	hours  []ledger.Hours
	health []ledger.Series
	sites  []ledger.Best
}

func ledgerCommand() *cobra.Command {
	var o ledgerOptions
	cmd := command("ledger [flags]", "hours and camera health over the season", ledgerAbout,
		func(cmd *cobra.Command, args []string) int { return runLedger(cmd, &o, args) })
	flags := cmd.Flags()
	flags.StringVar(&o.path, "ledger", "", "ledger `file`, when not the one in the user's data folder")
	flags.IntVar(&o.nights, "nights", 10, "how many of the latest `nights` to list; 0 for all")
	flags.StringVar(&o.csv, "csv", "", "write one `table` as CSV instead: hours, health or sites; --csv alone: hours")
	flags.Lookup("csv").NoOptDefVal = "hours"
	flags.StringVar(&o.html, "html", "", "write a page with charts into a `file` instead; it needs no network")
	flags.StringVar(&o.forget, "forget", "", "take the night of this `date` out of the ledger (2025-02-03); touches no frame")
	return cmd
}

func runLedger(cmd *cobra.Command, o *ledgerOptions, args []string) int {
	ctx, stdout, stderr := cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) > 0 && cmd.Flags().Changed("csv") {
		return usageError(stderr, cmd, fmt.Errorf("%w; a table is named as in --csv=health", noNames(args)))
	}
	if len(args) > 0 {
		return usageError(stderr, cmd, noNames(args))
	}
	if o.nights < 0 {
		return usageError(stderr, cmd, errors.New("--nights must not be negative"))
	}
	tables := map[string]func(*csv.Writer, season){"": nil, "hours": hoursCSV, "health": healthCSV, "sites": sitesCSV}
	table, known := tables[o.csv]
	if !known {
		return usageError(stderr, cmd, fmt.Errorf("no table %q; there are hours, health and sites", o.csv))
	}
	code, err := o.show(ctx, stdout, table)
	if ctx.Err() != nil {
		return exitInterrupted
	}
	if err != nil {
		fmt.Fprintln(stderr, "fitsqa ledger:", oneLine(err))
	}
	return code
}

func (o *ledgerOptions) show(ctx context.Context, stdout io.Writer, table func(*csv.Writer, season)) (code int, err error) {
	path := o.path
	if path == "" {
		if path, err = ledger.DefaultPath(); err != nil {
			return exitUsage, err
		}
	}
	l, err := ledger.OpenExisting(ctx, path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return exitNothing, fmt.Errorf("there is no ledger at %s yet; \"fitsqa check\" begins one", path)
	case err != nil:
		return exitOutput, err
	}
	defer l.Close()
	if o.forget != "" {
		n, err := l.Forget(ctx, o.forget)
		if err != nil {
			return exitOutput, err
		}
		_, err = fmt.Fprintf(stdout, "%s of the night of %s taken out of the ledger\n", fact.Plural(int(n), "row"), frames.Printable(o.forget))
		return codeOf(err), err
	}
	var s season
	if s.hours, err = l.Hours(ctx); err != nil {
		return exitOutput, err
	}
	if s.health, err = l.Health(ctx); err != nil {
		return exitOutput, err
	}
	if s.sites, err = l.Sites(ctx); err != nil {
		return exitOutput, err
	}
	if o.html != "" {
		err := writeSeason(o.html, report.Season{Hours: s.hours, Health: s.health, Sites: s.sites})
		return codeOf(err), err
	}
	if table != nil {
		w := csv.NewWriter(stdout)
		table(w, s)
		w.Flush()
		return codeOf(w.Error()), w.Error()
	}
	w := tabwriter.NewWriter(stdout, 0, 0, 2, ' ', 0)
	s.text(w, o.nights)
	err = w.Flush()
	return codeOf(err), err
}

func writeSeason(path string, s report.Season) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(report.SeasonHTML(f, s), f.Close())
}

func codeOf(err error) int {
	if err != nil {
		return exitOutput
	}
	return exitDone
}

func (s season) text(w io.Writer, nights int) {
	fmt.Fprintln(w, "Hours\n  target\tfilter\tnights\tfirst\tlast\tsubs\tshot h\tusable h\tclear h")
	for _, t := range ledger.Totals(s.hours) {
		fmt.Fprintf(w, "  %s\t%s\t%d\t%s\t%s\t%d\t%s\t%s\t%s\n", name(t.Target), name(t.Filter), t.Nights, t.First, t.Last,
			t.Subs, inHours(t.Shot), inHours(t.Usable), inHours(t.Clear))
	}
	fmt.Fprintln(w, "\nLatest nights\n  night\ttarget\tfilter\tcamera\tsubs\tshot h\tusable h\tclear h")
	for _, h := range latest(s.hours, nights) {
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%d\t%s\t%s\t%s\n", h.Night, name(h.Target), name(h.Filter), name(h.Camera),
			h.Subs, inHours(h.Shot), inHours(h.Usable), inHours(h.Clear))
	}
	if len(s.health) > 0 {
		fmt.Fprintln(w, "\nCamera health\n  camera\tfigure\tunder\ttimes\tfirst\tlatest\ton")
	}
	for _, h := range s.health {
		if s.inElectrons(h) {
			continue
		}
		first, last := h.Points[0], h.Points[len(h.Points)-1]
		fmt.Fprintf(w, "  %s\t%s\t%s\t%d\t%s\t%s %s\t%s\n", name(h.Camera), h.Metric, name(h.Setting), len(h.Points),
			first, last, h.Unit, last.Night)
	}
	for _, h := range s.health {
		if changed := say.Changed(&h); changed != "" {
			fmt.Fprintf(w, "  Warning: %s\n", changed)
		}
	}
	if len(s.sites) > 0 {
		fmt.Fprintln(w, "\nBest of each site (medians of nights, kept subs)\n  site\tfilter\tnights\tFWHM \"\tnight\tsky e-/s/\"²\tnight\tsky mag/\"²")
	}
	for _, b := range s.sites {
		fmt.Fprintf(w, "  %s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\n", place(b), name(b.Filter), b.Nights,
			decimal(b.FWHM, 2), b.FWHMNight, decimal(b.Sky, 3), b.SkyNight, decimal(b.SkyMag, 2))
	}
	if len(s.sites) > 0 {
		fmt.Fprintln(w, "\nEach site over all kept subs\n  site\tfilter\tsubs\tFWHM \"\tbest tenth\tsky e-/s/\"²\tbest tenth\tsky mag/\"²\tbest tenth")
	}
	for _, b := range s.sites {
		fmt.Fprintf(w, "  %s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\n", place(b), name(b.Filter), b.AllFWHM.Subs, decimal(b.AllFWHM.Median, 2), decimal(b.AllFWHM.Best, 2),
			decimal(b.AllSky.Median, 3), decimal(b.AllSky.Best, 3), decimal(b.AllMag.Median, 2), decimal(b.AllMag.Best, 2))
	}
}

// inElectrons tells that a series in ADU has its like in electrons, which is
// enough for a table; CSV holds both.
func (s season) inElectrons(h ledger.Series) bool {
	other := strings.Replace(h.Metric, "_adu", "_e", 1)
	return other != h.Metric && slices.ContainsFunc(s.health, func(o ledger.Series) bool {
		return o.Metric == other && o.Camera.Is(h.Camera) && sensor.SameSetting(string(o.Setting), string(h.Setting))
	})
}

// latest are the rows of the latest n nights, newest first; all when n is 0.
func latest(hours []ledger.Hours, n int) []ledger.Hours {
	list := append([]ledger.Hours(nil), hours...)
	slices.SortStableFunc(list, func(a, b ledger.Hours) int { return strings.Compare(b.Night, a.Night) })
	nights := 0
	for i := range list {
		if i == 0 || list[i].Night != list[i-1].Night {
			nights++
		}
		if n > 0 && nights > n {
			return list[:i]
		}
	}
	return list
}

func hoursCSV(w *csv.Writer, s season) {
	w.Write([]string{"target", "filter", "night", "camera", "subs", "shot_h", "usable_h", "clear_h", "clear_total_h"})
	total := 0.0
	for i, h := range s.hours {
		if i == 0 || h.Target != s.hours[i-1].Target || h.Filter != s.hours[i-1].Filter {
			total = 0
		}
		total += stats.OrZero(h.Clear)
		w.Write([]string{report.Cell(string(h.Target)), report.Cell(string(h.Filter)), h.Night, report.Cell(string(h.Camera)), strconv.Itoa(h.Subs),
			decimal(h.Shot/3600, 4), decimal(h.Usable/3600, 4), decimal(h.Clear/3600, 4), decimal(total/3600, 4)})
	}
}

func healthCSV(w *csv.Writer, s season) {
	w.Write([]string{"camera", "metric", "setting", "night", "value", "unit", "uncertainty", "frames", "warning"})
	for _, h := range s.health {
		for i, p := range h.Points {
			warning := ""
			if i == len(h.Points)-1 {
				warning = say.Changed(&h)
			}
			w.Write([]string{report.Cell(string(h.Camera)), h.Metric, report.Cell(string(h.Setting)), p.Night, exact(p.Value), h.Unit, exact(p.Uncertainty), strconv.Itoa(p.Frames), report.Cell(warning)})
		}
	}
}

func sitesCSV(w *csv.Writer, s season) {
	w.Write([]string{"lat_deg", "lon_deg", "filter", "nights", "best_fwhm_arcsec", "best_fwhm_night", "best_sky_e_per_s_arcsec2", "best_sky_night", "best_sky_mag_arcsec2",
		"subs", "median_fwhm_arcsec", "tenth_fwhm_arcsec", "median_sky_e_per_s_arcsec2", "tenth_sky_e_per_s_arcsec2", "median_sky_mag_arcsec2", "tenth_sky_mag_arcsec2"})
	for _, b := range s.sites {
		w.Write([]string{exact(b.Lat), exact(b.Lon), report.Cell(string(b.Filter)), strconv.Itoa(b.Nights), exact(b.FWHM), b.FWHMNight, exact(b.Sky), b.SkyNight, exact(b.SkyMag),
			strconv.Itoa(b.AllFWHM.Subs), exact(b.AllFWHM.Median), exact(b.AllFWHM.Best), exact(b.AllSky.Median), exact(b.AllSky.Best), exact(b.AllMag.Median), exact(b.AllMag.Best)})
	}
}

func inHours(seconds float64) string { return decimal(seconds/3600, 2) }

// decimal is x with n digits behind the point, empty when unknown.
func decimal(x float64, n int) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'f', n, 64)
}

func exact(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

func place(b ledger.Best) string {
	if math.IsNaN(b.Lat) {
		return "unknown"
	}
	return fmt.Sprintf("%.2f, %.2f", b.Lat, b.Lon)
}

func name(n names.Name) string {
	if n == "" {
		return "(none)"
	}
	return frames.Printable(string(n))
}
