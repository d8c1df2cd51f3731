package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

const manAbout = `
Writes the manual pages, one a command, into a folder from which "man" reads
them: "fitsqa man ~/.local/share/man/man1".
`

func manCommand() *cobra.Command {
	return command("man DIR", "write the manual pages", manAbout, func(cmd *cobra.Command, args []string) int {
		if len(args) != 1 {
			return usageError(cmd.ErrOrStderr(), cmd, fmt.Errorf("name one folder"))
		}
		if err := writeMan(cmd.Root(), args[0]); err != nil {
			fmt.Fprintln(cmd.ErrOrStderr(), "fitsqa man:", oneLine(err))
			return exitOutput
		}
		return exitDone
	})
}

// writeMan writes pages that tell no day, so that two of one month are the same.
func writeMan(root *cobra.Command, dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	root.DisableAutoGenTag = true
	return doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: "fitsqa", Manual: "User commands"}, dir)
}
