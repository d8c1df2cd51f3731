package frames

import (
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
)

// failingFile fails its reads while there are failures left.
type failingFile struct {
	*os.File
	left *atomic.Int32
}

func (f failingFile) Read(p []byte) (int, error) {
	if f.left.Add(-1) >= 0 {
		return 0, &fs.PathError{Op: "read", Path: f.Name(), Err: syscall.EIO}
	}
	return f.File.Read(p)
}

// A read that fails once costs nothing; a drive that is gone is the system's
// fault and not the file's.
func TestReadAgain(t *testing.T) {
	dir := write(t, "x.fits", fits(16, []int{100, 100}, ramp(10000), "BZERO   = 32768"))
	var left atomic.Int32
	plain := openFile
	t.Cleanup(func() { openFile = plain })
	openFile = func(path string) (storedFile, error) {
		f, err := os.Open(path)
		return failingFile{f, &left}, err
	}
	f := &Frame{Path: filepath.Join(dir, "x.fits")}
	for what, read := range map[string]func() error{
		"scan":  func() error { return scanDir(t, dir)[0].Err },
		"read":  func() error { return f.Read(new(Image)) },
		"hash":  func() error { _, err := f.ContentHash(); return err },
		"plane": func() error { return Again(func() error { _, err := f.ReadPlane(0, nil, nil); return err }) },
	} {
		left.Store(1)
		if err := read(); err != nil {
			t.Errorf("%s: one failed read: %v", what, err)
		}
		left.Store(1000)
		if err := read(); !SystemError(err) || !SaysNothing(err) {
			t.Errorf("%s: a drive that is gone: %v", what, err)
		}
		left.Store(0)
	}
}
