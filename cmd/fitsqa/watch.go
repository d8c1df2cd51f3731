package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/mattn/go-shellwords"
	"github.com/spf13/cobra"

	"fitsqa/internal/cache"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/watch"
)

const watchAbout = `
Follows DIR while the night runs: a line for every sub once its file is whole,
the reports of "fitsqa check" at most once a minute, and alerts on focus, cloud,
dew, trailed or doubled stars, saturation, a bright sky, a warm sensor, a full
disk, frames that fail to come, and twilight. Alerts are printed, written to
alerts.txt in the output folder, and given to a command in the environment:
FITSQA_ALERT (its kind), FITSQA_WORDS, FITSQA_FILE, FITSQA_TARGET,
FITSQA_FILTER, FITSQA_TIME. Ctrl-C ends with complete reports. DIR is only read.
Never point a telescope without a solar filter near the Sun.
`

// alertsName is the file of alerts in the output folder.
const alertsName = "alerts.txt"

type watchOptions struct {
	checkOptions
	onAlert string
	shell   bool
}

func watchCommand() *cobra.Command {
	var o watchOptions
	cmd := command("watch [flags] DIR", "follow a night while it is shot", watchAbout,
		func(cmd *cobra.Command, roots []string) int { return runWatch(cmd, &o, roots) })
	fs := cmd.Flags()
	fs.StringVar(&o.onAlert, "on-alert", "", "`command` that is run for every alert, with its arguments, not by a shell")
	fs.BoolVar(&o.shell, "shell", false, "the command is one for the shell")
	o.addWorkFlags(fs)
	return cmd
}

func runWatch(cmd *cobra.Command, o *watchOptions, roots []string) int {
	ctx, stderr := cmd.Context(), cmd.ErrOrStderr()
	if len(roots) != 1 {
		return usageError(stderr, cmd, errors.New("name one folder"))
	}
	hook, err := o.hookCommand()
	if err != nil {
		return usageError(stderr, cmd, err)
	}
	s, dir, code := o.prepare(ctx, cmd, roots)
	if code != exitDone {
		return code
	}
	if s.Cache == nil {
		// What was measured once is not measured again for every report.
		own, err := os.MkdirTemp("", "fitsqa-watch-")
		if err == nil {
			defer os.RemoveAll(own)
			s.Cache, _ = cache.Open(own) // without one reports only take longer
		}
	}
	out := cmd.OutOrStdout()
	if o.quiet {
		out = io.Discard
	}
	keepWithin(&s)
	w := &watched{options: o, out: out, err: stderr, dir: dir, roots: roots, settings: s}
	if err := w.follow(ctx, hook); err != nil {
		wrong(cmd, stderr, oneLine(err))
		return exitUsage
	}
	return w.end(cmd)
}

// hookCommand is the user's command as name and arguments; nil for none.
func (o *watchOptions) hookCommand() ([]string, error) {
	switch {
	case o.onAlert == "" && o.shell:
		return nil, errors.New("--shell says how to run the command of --on-alert")
	case o.onAlert == "":
		return nil, nil
	case o.shell:
		return []string{"sh", "-c", o.onAlert}, nil
	}
	parser := shellwords.NewParser()
	words, err := parser.Parse(o.onAlert)
	if err != nil || len(words) == 0 || parser.Position >= 0 { // stopped at a character of the shell
		return nil, fmt.Errorf("--on-alert %q is no command with its arguments: characters of the shell need --shell", o.onAlert)
	}
	return words, nil
}

type watched struct {
	options  *watchOptions
	dir      string // for the reports
	roots    []string
	settings night.Settings

	mu       sync.Mutex // lines come from the watch, its reports and the user's command
	out, err io.Writer
}

func (w *watched) line(text string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	fmt.Fprintln(w.out, text)
}

func (w *watched) wrong(text string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	fmt.Fprintln(w.err, "fitsqa watch:", text)
}

func (w *watched) follow(ctx context.Context, command []string) error {
	o := watch.DefaultOptions
	o.Roots, o.Settings = w.roots, w.settings
	o.Line, o.Report, o.Room = w.line, w.report, watch.FreeBytes
	o.Begun = func() {
		w.line("Watching " + printable(w.roots[0]) + ", reports go to " + printable(w.dir) + "; Ctrl-C ends with complete reports.")
	}
	o.Sub = func(s night.Seen, local night.LocalTime) { w.line(say.Arrived(s, local)) }
	tell := func(watch.Alert, string) {}
	if command != nil {
		hook := watch.NewHook(command, w.wrong)
		defer hook.Close()
		tell = hook.Tell
	}
	o.Alert = func(a watch.Alert) {
		sentence := say.Alert(a)
		w.line("ALERT " + string(a.Kind) + ": " + sentence)
		if err := w.keepAlert(a.Kind, sentence); err != nil {
			w.wrong("writing alerts.txt: " + oneLine(err))
		}
		tell(a, sentence)
	}
	return watch.Run(ctx, o)
}

func (w *watched) keepAlert(kind watch.Kind, sentence string) error {
	if err := os.MkdirAll(w.dir, 0o777); err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(w.dir, alertsName), os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o666)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "%s %s: %s\n", time.Now().UTC().Format(time.RFC3339), kind, sentence)
	return errors.Join(err, f.Close())
}

// report writes the reports as the night stands; no frame yet is nothing to report.
func (w *watched) report(ctx context.Context) error {
	result, err := night.Run(ctx, w.roots, w.settings, nil)
	if errors.Is(err, night.ErrNothing) {
		return nil
	}
	if err != nil {
		return err
	}
	return w.options.write(ctx, w.dir, result)
}

// end writes the last reports and records the night. Another signal gives up.
func (w *watched) end(cmd *cobra.Command) int {
	ctx, stop := untilSignal(context.WithoutCancel(cmd.Context()))
	defer stop()
	result, code := w.options.measure(ctx, w.err, cmd, w.roots, w.settings)
	if code != exitDone {
		return code
	}
	return w.options.report(ctx, cmd, w.out, w.err, w.dir, result)
}
