package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"fitsqa/internal/config"
	"fitsqa/internal/night"
)

const settingsAbout = `
Prints a settings file with every key at its default, each under a comment that
says what it means: "fitsqa settings > fitsqa.toml", change what you need, and
give it to "fitsqa check --config fitsqa.toml".
`

func settingsCommand() *cobra.Command {
	return command("settings", "print every setting as a settings file", settingsAbout, func(cmd *cobra.Command, args []string) int {
		if len(args) > 0 {
			return usageError(cmd.ErrOrStderr(), cmd, noNames(args))
		}
		s := night.DefaultSettings()
		if err := config.Example(cmd.OutOrStdout(), &s); err != nil {
			fmt.Fprintln(cmd.ErrOrStderr(), "fitsqa settings:", oneLine(err))
			return exitOutput
		}
		return exitDone
	})
}
