//go:build unix && !netbsd && !openbsd && !solaris && !illumos && !aix

package watch

import "golang.org/x/sys/unix"

// FreeBytes is what the user may still write to the disk of a folder; -1 when not
// known.
func FreeBytes(path string) int64 {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return -1
	}
	return int64(s.Bavail) * int64(s.Bsize)
}
