package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// helpColumns is what a terminal shows without wrapping lines itself.
const helpColumns = 80

const switchValues = "[=true|false]"

func writeHelp(w io.Writer, cmd *cobra.Command) {
	if cmd.HasAvailableSubCommands() {
		writeCommands(w, cmd)
		return
	}
	fmt.Fprintf(w, "Usage: %s\n\n%s\n", cmd.UseLine(), strings.TrimSpace(cmd.Long))
	if flags := cmd.LocalFlags(); flags.HasAvailableFlags() {
		// A switch is shown as one: pflag adds what value it could be given.
		usages := strings.ReplaceAll(flags.FlagUsagesWrapped(helpColumns), switchValues, strings.Repeat(" ", len(switchValues)))
		fmt.Fprintf(w, "\nFlags:\n%s", usages)
	}
	fmt.Fprintf(w, "\n%s", exitCodesHelp)
}

// writeCommands lists what a command consists of: those of the program, the shells of completion.
func writeCommands(w io.Writer, cmd *cobra.Command) {
	fmt.Fprintf(w, "%s\n\nUsage:\n", strings.TrimSpace(cmd.Long))
	widest := 0
	for _, c := range cmd.Commands() {
		widest = max(widest, len(c.Use))
	}
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() {
			fmt.Fprintf(w, "  %s %-*s %s\n", cmd.CommandPath(), widest, c.Use, c.Short)
		}
	}
	fmt.Fprintf(w, "\n\"%s COMMAND --help\" tells more of each", cmd.CommandPath())
	if !cmd.HasParent() {
		fmt.Fprint(w, ", \"fitsqa completion --help\" how a\nshell completes them")
	}
	fmt.Fprintln(w, ".")
}

func helpOf(cmd *cobra.Command, args []string) error {
	about, _, err := cmd.Root().Find(args)
	if err != nil {
		return err
	}
	writeHelp(cmd.OutOrStdout(), about)
	return nil
}
