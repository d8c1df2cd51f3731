package cull

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// A folder that may not be written to refuses its files with a clear reason,
// and the other folders' files move.
func TestReadOnlyFolder(t *testing.T) {
	out, subs := makeNight(t, []string{"a", "b"})
	plan, err := NewPlan(subs, Selection{Take: TakeCull})
	must(t, err)
	closed := filepath.Dir(plan.Moves[0].Path)
	must(t, os.Chmod(closed, 0o555))
	defer os.Chmod(closed, 0o777)
	if os.Geteuid() == 0 { // root may write anywhere: let this thread access files as nobody
		for dir := out; len(dir) > len(os.TempDir()); dir = filepath.Dir(dir) {
			must(t, os.Chmod(dir, 0o777))
		}
		must(t, os.Chmod(filepath.Dir(plan.Moves[1].Path), 0o777))
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		const nobody = 65534
		if err := unix.Setfsuid(nobody); err != nil {
			t.Skip("cannot give up root's rights:", err)
		}
		defer unix.Setfsuid(0)
	}
	done, err := (&Worker{OutDir: out}).Apply(context.Background(), plan)
	if err != nil || len(done.Moved) != 1 || len(done.Refused) != 1 || !strings.Contains(done.Refused[0].Reason, "cannot be written to") {
		t.Errorf("%v %+v", err, done)
	}
}
