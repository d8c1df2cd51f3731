//go:build unix

package cull

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

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
