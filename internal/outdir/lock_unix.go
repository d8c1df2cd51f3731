//go:build unix

package outdir

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

func lock(dir string) (unlock func(), err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(d.Fd()), unix.LOCK_EX|unix.LOCK_NB); errors.Is(err, unix.EWOULDBLOCK) {
		d.Close()
		return nil, errBusy
	}
	return func() { d.Close() }, nil
}

// left tells whether nobody holds the lock of a folder that its maker locked: whoever
// made it has ended. The folder stays locked until unlock is called.
func left(dir string) (unlock func(), ok bool) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, false
	}
	if unix.Flock(int(d.Fd()), unix.LOCK_EX|unix.LOCK_NB) != nil {
		d.Close()
		return nil, false
	}
	return func() { d.Close() }, true
}
