package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// exitCode ends a command that has said itself what went wrong.
type exitCode int

func (c exitCode) Error() string { return fmt.Sprintf("exit code %d", int(c)) }

// command is a command that says itself what went wrong and gives its exit code.
// Its long help is short, and a blank line, and about.
func command(use, short, about string, run func(cmd *cobra.Command, args []string) int) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Long: strings.TrimSpace(about), DisableFlagsInUseLine: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if code := run(cmd, args); code != exitDone {
				return exitCode(code)
			}
			return nil
		},
	}
	cmd.Flags().SortFlags = false
	return cmd
}

// suggested puts the commands that may have been meant into the line that names the wrong one.
var suggested = strings.NewReplacer("\n\nDid you mean this?\n\t", "; did you mean ", "\n\t", " or ", "\n", "")

// usageError says what is wrong with a command line and where its help is.
func usageError(stderr io.Writer, cmd *cobra.Command, err error) int {
	fmt.Fprintf(stderr, "%s: %s\nSee \"%s --help\".\n", cmd.CommandPath(), oneLine(errors.New(suggested.Replace(err.Error()))), cmd.CommandPath())
	return exitUsage
}

// noNames refuses what stands behind a command that takes no names.
func noNames(args []string) error { return fmt.Errorf("takes no %q", args[0]) }

// wrong tells by a command's name what went wrong in it.
func wrong(cmd *cobra.Command, stderr io.Writer, words ...any) {
	fmt.Fprintln(stderr, append([]any{cmd.CommandPath() + ":"}, words...)...)
}
