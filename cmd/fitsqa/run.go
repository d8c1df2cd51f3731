package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

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

// exitCode ends a command that has said itself what went wrong.
type exitCode int

func (c exitCode) Error() string { return fmt.Sprintf("exit code %d", int(c)) }

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

// helpColumns is what a terminal shows without wrapping lines itself.
const helpColumns = 80

const switchValues = "[=true|false]"

func writeHelp(w io.Writer, cmd *cobra.Command) {
	if cmd.HasAvailableSubCommands() {
		fmt.Fprintf(w, "%s\n\nUsage:\n", cmd.Long)
		for _, c := range cmd.Commands() {
			if c.IsAvailableCommand() {
				fmt.Fprintf(w, "  fitsqa %-22s %s\n", c.Use, c.Short)
			}
		}
		fmt.Fprintln(w, "\n\"fitsqa COMMAND --help\" tells more of each, \"fitsqa completion --help\" how a\nshell completes them.")
		return
	}
	fmt.Fprintf(w, "Usage: fitsqa %s\n\n%s\n", cmd.Use, cmd.Long)
	if flags := cmd.LocalFlags(); flags.HasAvailableFlags() {
		// A switch is shown as one: pflag adds what value it could be given.
		usages := strings.ReplaceAll(flags.FlagUsagesWrapped(helpColumns), switchValues, strings.Repeat(" ", len(switchValues)))
		fmt.Fprintf(w, "\nFlags:\n%s", usages)
	}
	fmt.Fprintf(w, "\n%s", exitCodesHelp)
}

func helpOf(cmd *cobra.Command, args []string) error {
	about, _, err := cmd.Root().Find(args)
	if err != nil {
		return err
	}
	writeHelp(cmd.OutOrStdout(), about)
	return nil
}

// usageError says what is wrong with a command line and where its help is.
func usageError(stderr io.Writer, cmd *cobra.Command, err error) int {
	fmt.Fprintf(stderr, "%s: %s\nSee \"%s --help\".\n", cmd.CommandPath(), oneLine(err), cmd.CommandPath())
	return exitUsage
}
