package main

import (
	"context"
	"errors"
	"io"

	"github.com/spf13/cobra"
)

// run is the whole program: it picks the command and gives its exit code.
func run(ctx context.Context, stdout, stderr io.Writer, args []string) int {
	out, errs := &plainText{w: stdout}, &plainText{w: stderr}
	defer out.flush()
	defer errs.flush()
	root := newRoot()
	root.SetOut(out)
	root.SetErr(errs)
	root.SetArgs(append([]string{}, args...)) // nil would mean the arguments of this process
	command, err := root.ExecuteContextC(ctx)
	var code exitCode
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &code):
		return int(code)
	}
	return usageError(errs, command, err)
}

// newRoot is the program with its commands: help, completion and man pages are
// all made from what stands here.
func newRoot() *cobra.Command {
	cobra.EnableCommandSorting = false
	root := &cobra.Command{
		Use:           "fitsqa",
		Short:         "Measures a night of astronomical frames and says what it was worth",
		Long:          "fitsqa measures a night of astronomical frames and says what it was worth.",
		Version:       programVersion(),
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(cmd *cobra.Command, _ []string) error {
			writeHelp(cmd.ErrOrStderr(), cmd)
			return exitCode(exitUsage)
		},
	}
	root.SetVersionTemplate("fitsqa {{.Version}}\n")
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { writeHelp(cmd.OutOrStdout(), cmd) })
	root.SetHelpCommand(&cobra.Command{Use: "help [COMMAND]", Short: "Tells more of a command", RunE: helpOf})
	root.AddCommand(checkCommand(), watchCommand(), demoCommand(), reviewCommand(), cullCommand(), ledgerCommand(), compareCommand(), aheadCommand(), cacheCommand(), settingsCommand(), manCommand(), versionCommand())
	root.CompletionOptions.HiddenDefaultCmd = true // its own words are too long for the list
	return root
}
