package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is set by the Makefile; a plain `go install` tells its module version.
var version = ""

func programVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "unknown"
}

func versionCommand() *cobra.Command {
	return command("version", "which version this is", "Prints the version.", func(cmd *cobra.Command, args []string) int {
		if len(args) > 0 {
			return usageError(cmd.ErrOrStderr(), cmd, noNames(args))
		}
		fmt.Fprintln(cmd.OutOrStdout(), "fitsqa", programVersion())
		return exitDone
	})
}
