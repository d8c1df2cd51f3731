package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"fitsqa/internal/cache"
)

const cacheAbout = `
Tells how much is remembered of frames that were measured. Forgetting it costs
the next run time and nothing else. It never takes more than 2 GiB between
runs: the entries unused for longest go first.
`

func cacheCommand() *cobra.Command {
	var empty bool
	cmd := command("cache [flags]", "what is remembered of frames, or forget it", cacheAbout,
		func(cmd *cobra.Command, args []string) int { return runCache(cmd, empty, args) })
	cmd.Flags().BoolVar(&empty, "clear", false, "forget everything")
	return cmd
}

func runCache(cmd *cobra.Command, empty bool, args []string) int {
	stdout, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) > 0 {
		return usageError(stderr, cmd, noNames(args))
	}
	dir, err := cacheDir()
	if err == nil {
		err = tellCache(stdout, dir, empty)
	}
	if err != nil {
		fmt.Fprintln(stderr, "fitsqa cache:", oneLine(err))
		return exitOutput
	}
	return exitDone
}

func tellCache(stdout io.Writer, dir string, empty bool) error {
	store, err := cache.Open(dir)
	if err != nil {
		return err
	}
	entries, bytes := store.Use()
	noun := "entries"
	if entries == 1 {
		noun = "entry"
	}
	held := fmt.Sprintf("%d %s, %.1f MiB in all", entries, noun, float64(bytes)/(1<<20))
	if !empty {
		fmt.Fprintf(stdout, "%s, in %s\n", held, dir)
		return nil
	}
	if err := store.Clear(); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s, forgotten\n", held)
	return nil
}

func cacheDir() (string, error) {
	dir, err := os.UserCacheDir()
	return filepath.Join(dir, "fitsqa"), err
}

// openCache is the user's cache of measurements; nil, with a word, when there
// can be none: the run then only takes longer.
func openCache(cmd *cobra.Command, roots []string) *cache.Store {
	dir, err := cacheDir()
	if err == nil {
		err = outsideAll("cache", dir, "XDG_CACHE_HOME", roots)
	}
	if err == nil {
		var store *cache.Store
		if store, err = cache.Open(dir); err == nil {
			return store
		}
	}
	wrong(cmd, cmd.ErrOrStderr(), "nothing will be remembered for the next run:", oneLine(err))
	return nil
}
