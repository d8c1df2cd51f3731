// Package outdir keeps the files of an output folder together: one run at a
// time writes into it, what runs that were killed left is removed, and a list of
// checksums shows whether the reports there are of one run.
//
// Reports replace those of an earlier run by renames, one file after the other,
// the list last. A run that is killed between two renames leaves a list that
// does not fit the files: Mixed tells.
package outdir

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// TemporarySuffix ends the name of a hidden file that is being written.
const TemporarySuffix = ".fitsqa-tmp"

var errBusy = errors.New("another run is at work on this output folder")

// Lock keeps other runs away from a folder that is there until unlock is called
// or the program ends in whatever way; it waits as long as it may. A file system
// without such locks is worked on without.
func Lock(dir string, wait time.Duration) (unlock func(), err error) {
	for until := time.Now().Add(wait); ; time.Sleep(50 * time.Millisecond) {
		unlock, err := lock(dir)
		if !errors.Is(err, errBusy) || time.Now().After(until) {
			return unlock, err
		}
	}
}

// Sweep removes the hidden files that runs which were killed left. Whoever holds
// the lock may call it: no other run is writing.
func Sweep(dir string) {
	entries, _ := os.ReadDir(dir) // a folder that cannot be read cannot be written either, which is reported
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") && strings.HasSuffix(e.Name(), TemporarySuffix) && e.Type().IsRegular() {
			_ = os.Remove(filepath.Join(dir, e.Name())) // one that stays is only untidy
		}
	}
}
