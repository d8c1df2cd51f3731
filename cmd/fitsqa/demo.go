package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"

	"fitsqa/internal/demo"
)

const demoAbout = `Usage: fitsqa demo [flags] DIR

Writes a synthetic night into DIR: bias, darks, flats and subs of an invented
camera, with clouds, a trailed run and other mishaps whose truth is known. The
truth is written beside the folder, as DIR.truth.json.
`

func runDemo(ctx context.Context, stdout, stderr io.Writer, args []string) int {
	fs := pflag.NewFlagSet("demo", pflag.ContinueOnError)
	names := demoScenarioNames()
	scenario := fs.String("scenario", names[0], "which night: "+strings.Join(names, ", "))
	seed := fs.Uint64("seed", 0, "seed of the noise and the sky; 0 takes the scenario's own")
	if code, done := parseFlags(fs, demoAbout, stdout, stderr, args); done {
		return code
	}
	if fs.NArg() != 1 {
		return usageError(stderr, "demo", fmt.Errorf("name one folder to write into"))
	}
	sc, ok := demo.ScenarioNamed(*scenario)
	if !ok {
		return usageError(stderr, "demo", fmt.Errorf("no scenario %q; there are %s", *scenario, strings.Join(names, ", ")))
	}
	if *seed != 0 {
		sc.Seed = *seed
	}
	bar := newProgress(stderr)
	truth, err := demo.Write(ctx, fs.Arg(0), sc, bar.stage("writing frames"))
	bar.finish()
	switch {
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "fitsqa demo: interrupted")
		return exitInterrupted
	case err != nil:
		fmt.Fprintln(stderr, "fitsqa demo:", err)
		return exitOutput
	}
	fmt.Fprintf(stdout, "%d frames in %s, their truth in %s\n", truth.FrameCount(), fs.Arg(0), demo.TruthPath(fs.Arg(0)))
	return exitDone
}

func demoScenarioNames() []string {
	var names []string
	for _, sc := range demo.Scenarios() {
		names = append(names, sc.Name)
	}
	return names
}
