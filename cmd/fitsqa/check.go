package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"fitsqa/internal/night"
	"fitsqa/internal/report"
)

const checkAbout = `Usage: fitsqa check [flags] DIR...

Measures every FITS frame below the folders and writes report.txt (also shown
here), report.html, subs.csv, calibration.csv and night.json into the output
folder. The folders themselves are only read.
`

// checkOptions are the flags of check that are not settings of the measuring.
type checkOptions struct {
	out       string
	config    string
	decisions string
	preset    presetFlags
	season    seasonFlags
	noCache   bool
}

func (o *checkOptions) addFlags(fs *pflag.FlagSet) {
	fs.StringVarP(&o.out, "out", "o", "fitsqa-out", "folder for the reports; never inside a source folder")
	fs.StringVarP(&o.config, "config", "c", "", "TOML `file` with settings; flags win over it")
	fs.StringVar(&o.decisions, "decisions", "", "`file` with your own verdicts: lines \"keep NAME\" or \"cull NAME\"; those kept in the output folder hold without it")
	o.preset.addFlags(fs)
	o.season.addFlags(fs)
	fs.BoolVar(&o.noCache, "no-cache", false, "measure every sub anew, and remember nothing")
}

// parseCheck reads the flags twice: first to find the configuration file, then
// over the settings that it gave, so that a flag wins over the file and the
// file over the defaults.
func parseCheck(stdout, stderr io.Writer, args []string) (o checkOptions, s night.Settings, roots []string, code int, done bool) {
	parse := func() {
		fs := pflag.NewFlagSet("check", pflag.ContinueOnError)
		o.addFlags(fs)
		addSettingFlags(fs, &s)
		code, done = parseFlags(fs, checkAbout, stdout, stderr, args)
		roots = fs.Args()
	}
	s = night.DefaultSettings()
	if parse(); done {
		return o, s, roots, code, done
	}
	var err error
	if s, err = o.settings(); err != nil {
		return o, s, nil, usageError(stderr, "check", err), true
	}
	parse()
	return o, s, roots, code, done
}

// settings are the defaults, changed by preset, configuration file and
// decision file.
func (o *checkOptions) settings() (night.Settings, error) {
	s := night.DefaultSettings()
	limits, err := o.preset.limits()
	if err != nil {
		return s, err
	}
	s.Limits = limits
	if o.config != "" {
		if err := loadConfig(o.config, &s); err != nil {
			return s, err
		}
	}
	s.Decisions, err = loadDecisions(o.out, o.decisions)
	return s, err
}

func runCheck(ctx context.Context, stdout, stderr io.Writer, args []string) int {
	o, s, roots, code, done := parseCheck(stdout, stderr, args)
	if done {
		return code
	}
	if len(roots) == 0 {
		return usageError(stderr, "check", errors.New("name at least one folder"))
	}
	if err := checkOutside(o.out, roots); err != nil {
		return usageError(stderr, "check", err)
	}
	if err := report.CheckWritable(o.out); err != nil {
		fmt.Fprintln(stderr, "fitsqa check: writing the reports:", err)
		return exitOutput
	}

	o.season.recall(ctx, &s)

	if !o.noCache {
		s.Cache = openCache(stderr)
	}

	// The collector is told of the limit as well: it would let garbage double the heap.
	debug.SetMemoryLimit(int64(s.MemoryMiB) << 20)

	bar := newProgress(stderr)
	result, err := night.Run(ctx, roots, s, bar.update)
	bar.finish()
	s.Cache.Sweep()
	switch {
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "fitsqa check: interrupted, nothing written")
		return exitInterrupted
	case errors.Is(err, night.ErrNothing):
		fmt.Fprintln(stderr, "fitsqa check:", err)
		return exitNothing
	case err != nil:
		return usageError(stderr, "check", err)
	}

	if err := report.WriteAll(ctx, o.out, result); err != nil {
		if ctx.Err() != nil {
			fmt.Fprintln(stderr, "fitsqa check: interrupted, nothing written")
			return exitInterrupted
		}
		fmt.Fprintln(stderr, "fitsqa check: writing the reports:", err)
		return exitOutput
	}
	if err := keepDecisions(o, result); err != nil {
		fmt.Fprintln(stderr, "fitsqa check: keeping your decisions:", err)
		return exitOutput
	}
	if err := report.Text(stdout, result); err != nil {
		fmt.Fprintln(stderr, "fitsqa check:", err)
		return exitOutput
	}
	fmt.Fprintf(stderr, "Reports are in %s\n", o.out)
	if err := o.season.record(ctx, result); err != nil {
		if ctx.Err() != nil {
			fmt.Fprintln(stderr, "fitsqa check: interrupted: the reports are complete, but the night was not recorded")
			return exitInterrupted
		}
		fmt.Fprintf(stderr, "fitsqa check: the reports are complete, but the night was not recorded (--no-ledger does without): %v\n", err)
		return exitOutput
	}
	if result.Unreadable() > 0 {
		return exitUnreadable
	}
	return exitDone
}

// checkOutside refuses an output folder inside a source folder: sources are only read.
func checkOutside(out string, roots []string) error {
	outAbs, err := resolved(out)
	if err != nil {
		return err
	}
	for _, root := range roots {
		rootAbs, err := resolved(root)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(rootAbs, outAbs)
		if err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return fmt.Errorf("the output folder %s lies inside the source folder %s, which is only read; name another with --out", out, root)
		}
	}
	return nil
}

// resolved is the absolute path with symbolic links followed as far as the
// path exists.
func resolved(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	for rest := ""; ; {
		real, err := filepath.EvalSymlinks(abs)
		if err == nil {
			return filepath.Join(real, rest), nil
		}
		missing := errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR)
		if !missing || filepath.Dir(abs) == abs {
			return "", err
		}
		rest = filepath.Join(filepath.Base(abs), rest)
		abs = filepath.Dir(abs)
	}
}
