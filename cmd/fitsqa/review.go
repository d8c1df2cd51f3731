package main

import (
	"errors"
	"fmt"
	"os/exec"
	"runtime"

	"github.com/spf13/cobra"

	"fitsqa/internal/review"
)

const reviewAbout = `
Serves the night in OUTDIR on this machine alone: the page of check with the
frames at any zoom, the stars as measured, two subs compared in place, and
moving aside and back. Open the address that it prints; the token in it keeps
everyone else out. Marks are written to OUTDIR/decisions.txt as you make them,
and the lists of what stays to keep.txt, keep/FILTER.txt and weights.csv.
Ctrl-C ends it.
`

func reviewCommand() *cobra.Command {
	var open bool
	cmd := command("review [flags] OUTDIR", "look through a night, decide, move", reviewAbout,
		func(cmd *cobra.Command, args []string) int { return runReview(cmd, open, args) })
	cmd.Flags().BoolVar(&open, "open", false, "open the browser")
	return cmd
}

func runReview(cmd *cobra.Command, open bool, args []string) int {
	ctx, stdout, stderr := cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) != 1 {
		return usageError(stderr, cmd, errors.New("name the output folder of a check"))
	}
	server, err := review.New(args[0])
	if err != nil {
		fmt.Fprintln(stderr, "fitsqa review:", err)
		return exitNothing
	}
	err = server.Serve(ctx, func(address string) {
		fmt.Fprintf(stdout, "The night is at %s\nCtrl-C ends the review; marks are kept as you make them.\n", address)
		if open {
			if err := openBrowser(address); err != nil {
				fmt.Fprintln(stderr, "fitsqa review: the browser did not open:", err)
			}
		}
	})
	if err != nil {
		fmt.Fprintln(stderr, "fitsqa review:", err)
		return exitOutput
	}
	return exitDone
}

// openBrowser has the system open an address, and does not wait for it.
func openBrowser(address string) error {
	program := map[string]string{"darwin": "open", "windows": "explorer"}[runtime.GOOS]
	if program == "" {
		program = "xdg-open"
	}
	return exec.Command(program, address).Start()
}
