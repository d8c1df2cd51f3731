package outdir

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// What a run that was killed left goes with the next one; what another is filling
// stays, and so do folders of other names, whatever is in them.
func TestHiddenFolders(t *testing.T) {
	parent := t.TempDir()
	make := func(name string) string {
		dir := filepath.Join(parent, name)
		if err := os.MkdirAll(filepath.Join(dir, "night"), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "night", "sub.fits"), []byte("x"), 0o666); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	there := func(dir string) bool { _, err := os.Lstat(dir); return err == nil }
	left, own, alike := make(".partial-123.fitsqa-tmp"), make(".partial-123"), make("night.fitsqa-tmp")
	busy, done, err := Hidden(parent)
	if err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS != "windows" && there(left) {
		t.Error("what a killed run left is still there")
	}
	other, otherDone, err := Hidden(parent)
	if err != nil {
		t.Fatal(err)
	}
	if !there(busy) || !there(own) || !there(alike) {
		t.Errorf("in use: %v; the user's: %v, %v", there(busy), there(own), there(alike))
	}
	done()
	otherDone()
	if there(busy) || there(other) {
		t.Error("a folder stays when its run has ended")
	}
	if _, _, err := Hidden(filepath.Join(parent, "none")); err == nil {
		t.Error("a folder in a folder that is not there")
	}
}
