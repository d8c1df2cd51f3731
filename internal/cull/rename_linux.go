package cull

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// renameExclusive renames within a file system and never replaces a file:
// renameat2 with RENAME_NOREPLACE makes check and rename one step. Where the
// file system lacks it (some network and foreign ones do), the check comes
// first.
func renameExclusive(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) || errors.Is(err, unix.ENOTSUP):
		return renameChecked(from, to)
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}
