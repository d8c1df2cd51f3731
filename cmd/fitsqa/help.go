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
