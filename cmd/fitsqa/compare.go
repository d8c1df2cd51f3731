package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"regexp"

	"github.com/spf13/cobra"

	"fitsqa/internal/compare"
	"fitsqa/internal/ledger"
	"fitsqa/internal/report"
	"fitsqa/internal/say"
)

const compareAbout = `
Sets two nights or set-ups side by side: what of the light came through, how
bright the sky was, how sharp the stars were, gain, read noise and dark current,
and the signal to noise in equal time. Each is an output folder of check, or the
date of a night in the ledger, as 2025-08-20.
`

func compareCommand() *cobra.Command {
	var path string
	var asJSON bool
	cmd := command("compare [flags] NIGHT NIGHT", "two nights or set-ups side by side", compareAbout,
		func(cmd *cobra.Command, args []string) int { return runCompare(cmd, path, asJSON, args) })
	cmd.Flags().StringVar(&path, "ledger", "", "ledger `file` of the season, for dates")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return cmd
}

func runCompare(cmd *cobra.Command, path string, asJSON bool, args []string) int {
	stdout, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) != 2 {
		return usageError(stderr, cmd, errors.New("name two output folders or dates"))
	}
	var sides [2]compare.Side
	for i, name := range args {
		var err error
		if sides[i], err = sideOf(cmd.Context(), path, name); err != nil {
			fmt.Fprintln(stderr, "fitsqa compare:", oneLine(err))
			return exitNothing
		}
		sides[i].Name = name
	}
	tell := say.Compared
	if asJSON {
		tell = report.ComparedJSON
	}
	if err := tell(stdout, compare.Of(sides[0], sides[1])); err != nil {
		fmt.Fprintln(stderr, "fitsqa compare:", oneLine(err))
		return exitOutput
	}
	return exitDone
}

var isDate = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// sideOf reads an output folder, or a night of the ledger where there is no folder of
// that name.
func sideOf(ctx context.Context, path, name string) (compare.Side, error) {
	side, err := compare.FromOutput(name)
	if !errors.Is(err, fs.ErrNotExist) || !isDate.MatchString(name) {
		return side, err
	}
	file, err := (&seasonFlags{path: path}).file()
	if err != nil {
		return compare.Side{}, err
	}
	l, err := ledger.OpenExisting(ctx, file)
	if err != nil {
		return compare.Side{}, err
	}
	defer l.Close()
	return compare.FromLedger(ctx, l, name)
}
