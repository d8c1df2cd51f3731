package main

import (
	"context"
	"errors"
	"fitsqa/internal/ledger"
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/report"
)

const checkAbout = `
Measures every FITS frame below the folders and writes report.txt, report.html,
subs.csv, calibration.csv and night.json into the output folder; the first
screen of report.txt is shown here as well. The folders are only read.

"fitsqa settings" prints every setting with its default as a settings file.
`

type checkOptions struct {
	utcOffset string
	out       string
	masters   string
	config    string
	limits    string
	decisions string
	season    seasonFlags
	settings  settingFlags
	noCache   bool
	full      bool
	quiet     bool
}

func checkCommand() *cobra.Command {
	var o checkOptions
	cmd := command("check [flags] DIR...", "measure the frames below DIR, write reports", checkAbout,
		func(cmd *cobra.Command, roots []string) int { return runCheck(cmd, &o, roots) })
	o.addFlags(cmd.Flags())
	return cmd
}

func (o *checkOptions) addFlags(fs *pflag.FlagSet) {
	fs.BoolVar(&o.full, "full", false, "show all of report.txt here, not only its first screen")
	o.addWorkFlags(fs)
	fs.StringVar(&o.masters, "masters", "", "also write master bias, darks and flats and the defects of the camera into a `folder`, as FITS")
}

// addWorkFlags are the flags of what works like check.
func (o *checkOptions) addWorkFlags(fs *pflag.FlagSet) {
	fs.StringVarP(&o.out, "out", "o", "", "`folder` for the reports, never inside a source folder; without it fitsqa-out here, or NAME-fitsqa beside the night")
	fs.BoolVarP(&o.quiet, "quiet", "q", false, "show nothing here but errors")
	fs.StringVarP(&o.config, "config", "c", "", "settings `file`; flags win over it")
	fs.StringVar(&o.limits, "limits", "default", "`set` of limits: default, strict (more subs than needed: cull what is doubtful) or lenient (cull only what spoils the stack)")
	fs.StringVar(&o.decisions, "decisions", "", "`file` with your own verdicts: lines \"keep NAME\" or \"cull NAME\"; those kept in the output folder hold without it")
	fs.StringVar(&o.utcOffset, "utc-offset", "", "`hours` of local time ahead of UTC, such as -3.5; without it by the site's longitude")
	o.settings.addFlags(fs)
	o.season.addFlags(fs)
	fs.BoolVar(&o.noCache, "no-cache", false, "measure every sub anew, and remember nothing")
}

// resolve works out the settings: defaults, changed by the set of limits, the
// settings file and flags, in this order.
func (o *checkOptions) resolve(fs *pflag.FlagSet) (night.Settings, error) {
	s := night.DefaultSettings()
	var err error
	if s.Limits, err = limitsNamed(o.limits); err != nil {
		return s, err
	}
	if o.config != "" {
		if err := loadConfig(o.config, &s); err != nil {
			return s, err
		}
	}
	if s.UTCOffset, err = utcOffset(o.utcOffset); err != nil {
		return s, err
	}
	return s, o.settings.apply(fs, &s)
}

// utcOffset reads hours ahead of UTC; nil where none are given. Zones run from
// 12 hours behind to 14 ahead.
func utcOffset(text string) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	hours, err := strconv.ParseFloat(text, 64)
	if err != nil || !(hours >= -12 && hours <= 14) {
		return nil, fmt.Errorf("--utc-offset %q is not hours from -12 to 14", text)
	}
	return &hours, nil
}

func runCheck(cmd *cobra.Command, o *checkOptions, roots []string) int {
	ctx, stderr := cmd.Context(), cmd.ErrOrStderr()
	if len(roots) == 0 {
		return usageError(stderr, cmd, errors.New("name at least one folder"))
	}
	if o.full && o.quiet {
		return usageError(stderr, cmd, errors.New("--full and --quiet exclude each other"))
	}
	if err := o.checkMasters(roots); err != nil {
		return usageError(stderr, cmd, err)
	}
	s, dir, code := o.prepare(ctx, cmd, roots)
	if code != exitDone {
		return code
	}
	s.Calib.Masters = o.masters != ""
	result, code := o.measure(ctx, stderr, cmd, roots, s)
	if code != exitDone {
		return code
	}
	if err := o.writeMasters(stderr, result); err != nil {
		wrong(cmd, stderr, "writing the masters:", oneLine(err))
		return exitOutput
	}
	return o.report(ctx, cmd, cmd.OutOrStdout(), stderr, dir, result)
}

func (o *checkOptions) prepare(ctx context.Context, cmd *cobra.Command, roots []string) (s night.Settings, dir string, code int) {
	stderr := cmd.ErrOrStderr()
	refuse := func(err error) (night.Settings, string, int) { return s, "", usageError(stderr, cmd, err) }
	s, err := o.resolve(cmd.Flags())
	if err != nil {
		return refuse(err)
	}
	place, err := placeReports(o.out, roots)
	if err != nil {
		return refuse(err)
	}
	if err := o.season.checkOutside(roots); err != nil {
		return refuse(err)
	}
	if s.Decisions, err = loadDecisions(place.dir, o.decisions); err != nil {
		return refuse(err)
	}
	if place.notice != "" {
		fmt.Fprintln(stderr, place.notice)
	}
	if err := report.CheckWritable(place.dir); err != nil {
		wrong(cmd, stderr, "writing the reports:", oneLine(err))
		return s, "", exitOutput
	}

	o.season.recall(ctx, &s)
	if !o.noCache {
		s.Cache = openCache(cmd, roots)
	}
	return s, place.dir, exitDone
}

// measure runs the pipeline under the limit of memory, with a bar on a terminal.
func (o *checkOptions) measure(ctx context.Context, stderr io.Writer, cmd *cobra.Command, roots []string, s night.Settings) (*night.Result, int) {
	keepWithin(&s)
	bar := newProgress(stderr)
	result, err := night.Run(ctx, roots, s, bar.update)
	bar.finish()
	s.Cache.Sweep()
	switch {
	case ctx.Err() != nil:
		wrong(cmd, stderr, "interrupted, nothing written")
		return nil, exitInterrupted
	case errors.Is(err, night.ErrNothing):
		wrong(cmd, stderr, oneLine(err))
		return nil, exitNothing
	case err != nil:
		return nil, usageError(stderr, cmd, err)
	}
	return result, exitDone
}

func (o *checkOptions) report(ctx context.Context, cmd *cobra.Command, stdout, stderr io.Writer, dir string, result *night.Result) int {
	if err := o.write(ctx, dir, result); err != nil {
		if ctx.Err() != nil {
			wrong(cmd, stderr, "interrupted, nothing written")
			return exitInterrupted
		}
		_ = o.show(stdout, dir, result) // the night was measured: its answer is worth having all the same
		wrong(cmd, stderr, "writing the reports:", oneLine(err))
		return exitOutput
	}
	if err := keepDecisions(dir, o.decisions, result); err != nil {
		wrong(cmd, stderr, "keeping your decisions:", oneLine(err))
		return exitOutput
	}
	if err := o.show(stdout, dir, result); err != nil {
		wrong(cmd, stderr, oneLine(err))
		return exitOutput
	}
	tellMistakes(cmd, stderr, result)
	if err := o.season.record(ctx, result); err != nil {
		if ctx.Err() != nil {
			wrong(cmd, stderr, "interrupted: the reports are complete, but the night was not recorded")
			return exitInterrupted
		}
		wrong(cmd, stderr, "the reports are complete, but the night was not recorded (--no-ledger does without):", oneLine(err))
		return exitOutput
	}
	switch {
	case result.FailedReads() > 0:
		return exitFailedReads
	case result.Unreadable() > 0:
		return exitUnreadable
	}
	return exitDone
}

func (o *checkOptions) write(ctx context.Context, dir string, result *night.Result) error {
	result.Program, result.Folder = programVersion(), dir
	result.Changes = ledger.Changes(result, o.season.health)
	return report.WriteAll(ctx, dir, result)
}

func (o *checkOptions) show(stdout io.Writer, dir string, result *night.Result) error {
	switch {
	case o.quiet:
		return nil
	case o.full:
		return report.Text(stdout, result)
	}
	return report.Screen(stdout, result, dir, columns(stdout))
}

// tellMistakes shows where this program itself failed on a file.
func tellMistakes(cmd *cobra.Command, stderr io.Writer, r *night.Result) {
	for _, f := range r.Frames {
		if internal, ok := errors.AsType[*frames.InternalError](f.Err); ok {
			fmt.Fprintf(stderr, "%s: %s: %v\n%s\n", cmd.CommandPath(), frames.Printable(f.Name), internal, internal.Stack)
		}
	}
}
