package outdir

import (
	"os"
	"path/filepath"
	"strings"
)

// hiddenPrefix begins the name of a hidden folder that is being filled, and
// TemporarySuffix ends it.
const hiddenPrefix = ".partial-"

// Hidden makes a hidden folder in parent for what is to be renamed from there once it
// is whole, and removes those of runs that were killed, where the system has locks to
// tell them by. done removes it with what is left in it.
func Hidden(parent string) (dir string, done func(), err error) {
	sweepHidden(parent)
	for range 3 { // another run may take it for one that was left, before it is locked
		if dir, err = os.MkdirTemp(parent, hiddenPrefix+"*"+TemporarySuffix); err != nil {
			return "", nil, err
		}
		unlock, e := lock(dir)
		if err = e; err != nil {
			continue
		}
		if _, err = os.Lstat(dir); err != nil {
			unlock()
			continue
		}
		return dir, func() {
			_ = os.RemoveAll(dir) // what stays is hidden, and goes with the next run
			unlock()
		}, nil
	}
	return "", nil, err
}

// sweepHidden removes the hidden folders that runs which were killed left.
func sweepHidden(parent string) {
	entries, _ := os.ReadDir(parent) // one that cannot be read may still be written
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), hiddenPrefix) || !strings.HasSuffix(e.Name(), TemporarySuffix) {
			continue
		}
		dir := filepath.Join(parent, e.Name())
		if unlock, ok := left(dir); ok {
			_ = os.RemoveAll(dir) // one that stays is only untidy
			unlock()
		}
	}
}
