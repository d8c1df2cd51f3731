package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/pflag"
)

const usage = `fitsqa measures a night of astronomical frames and says what it was worth.

Usage:
  fitsqa check [flags] DIR...    measure the frames below DIR, write the reports
  fitsqa demo [flags] DIR        write a synthetic night with known truth into DIR
  fitsqa cull [flags] OUTDIR     move the spoiled subs of a report aside, or bring them back
  fitsqa ledger [flags]          hours and camera health over the season
  fitsqa cache [flags]           what is remembered of measured frames, or forget it
  fitsqa version

"fitsqa COMMAND --help" tells more of each.
`

// run is the whole program: it picks the command and gives its exit code.
func run(ctx context.Context, stdout, stderr io.Writer, args []string) int {
	if len(args) == 0 {
		fmt.Fprint(stderr, usage)
		return exitUsage
	}
	switch command, rest := args[0], args[1:]; command {
	case "check":
		return runCheck(ctx, stdout, stderr, rest)
	case "demo":
		return runDemo(ctx, stdout, stderr, rest)
	case "cull":
		return runCull(ctx, stdout, stderr, rest)
	case "ledger":
		return runLedger(ctx, stdout, stderr, rest)
	case "cache":
		return runCache(stdout, stderr, rest)
	case "version", "--version":
		return runVersion(stdout)
	case "help", "--help", "-h":
		fmt.Fprint(stdout, usage)
		return exitDone
	default:
		fmt.Fprintf(stderr, "fitsqa: unknown command %q\n\n%s", command, usage)
		return exitUsage
	}
}

// parseFlags parses args and deals with --help; when done is true the command
// ends with code.
func parseFlags(fs *pflag.FlagSet, about string, stdout, stderr io.Writer, args []string) (code int, done bool) {
	fs.SortFlags = false
	fs.SetOutput(io.Discard)
	fs.Usage = func() {}
	err := fs.Parse(args)
	switch {
	case errors.Is(err, pflag.ErrHelp):
		fmt.Fprintf(stdout, "%s\nFlags:\n%s\n%s", about, fs.FlagUsagesWrapped(100), exitCodesHelp)
		return exitDone, true
	case err != nil:
		return usageError(stderr, fs.Name(), err), true
	}
	return exitDone, false
}

func usageError(stderr io.Writer, command string, err error) int {
	fmt.Fprintf(stderr, "fitsqa %s: %v\nSee \"fitsqa %s --help\".\n", command, err, command)
	return exitUsage
}
