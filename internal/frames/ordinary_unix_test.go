//go:build unix

package frames

import (
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestNoOrdinaryFiles: what is named like a frame but is none must neither
// hang the scan nor be left out of it.
func TestNoOrdinaryFiles(t *testing.T) {
	dir := t.TempDir()
	writeIn(t, dir, "good.fits", twoByTwo())
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.fits"), 0o666); err != nil {
		t.Skip("no pipes here: ", err)
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.fits"), 0o777); err != nil {
		t.Fatal(err)
	}
	writeIn(t, dir, "folder.fits/inside.fits", twoByTwo())
	l, err := net.Listen("unix", filepath.Join(dir, "socket.fits"))
	if err == nil {
		defer l.Close()
	}
	if err := os.Symlink("/dev/zero", filepath.Join(dir, "device.fits")); err != nil {
		t.Fatal(err)
	}
	secret := writeIn(t, dir, "secret.fits", twoByTwo())
	if err := os.Chmod(secret, 0); err != nil {
		t.Fatal(err)
	}
	done := make(chan []*Frame)
	go func() { done <- scanDir(t, dir) }()
	var fs map[string]*Frame
	select {
	case list := <-done:
		fs = byName(list)
	case <-time.After(20 * time.Second):
		t.Fatal("the scan hangs")
	}
	for name, want := range map[string]string{
		"pipe.fits": "pipe", "folder.fits": "folder", "device.fits": "link out of", "socket.fits": "socket",
	} {
		if name == "socket.fits" && err != nil {
			continue
		}
		if f := fs[name]; f == nil || f.Err == nil || !strings.Contains(f.Err.Error(), want) {
			t.Errorf("%s: %+v, want an error about %q", name, f, want)
		}
	}
	for _, name := range []string{"good.fits", "folder.fits/inside.fits"} {
		if f := fs[name]; f == nil || f.Err != nil {
			t.Errorf("%s: %+v, want it read", name, f)
		}
	}
	if f := fs["secret.fits"]; os.Getuid() != 0 && (f == nil || !errors.Is(f.Err, os.ErrPermission)) {
		t.Errorf("secret.fits: %+v, want a refusal", f)
	}
}
