//go:build unix

package cull

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lock keeps two culls of one output folder apart; the system lets go of it
// when the program ends in whatever way. A file system without such locks is
// worked on without.
func lock(outdir string) (unlock func(), err error) {
	d, err := os.Open(outdir)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(d.Fd()), unix.LOCK_EX|unix.LOCK_NB); errors.Is(err, unix.EWOULDBLOCK) {
		d.Close()
		return nil, errors.New("another cull is at work on this output folder")
	}
	return func() { d.Close() }, nil
}

// syncFolder makes renames in a folder durable, where the file system can.
func syncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, unix.EINVAL) && !errors.Is(err, unix.ENOTSUP) {
		return err
	}
	return nil
}

// removeEmpty removes a folder that is empty, and nothing else.
func removeEmpty(folder string) {
	_ = unix.Rmdir(folder) // a folder that is not empty stays
}

func isReadOnly(err error) bool { return errors.Is(err, unix.EROFS) }
