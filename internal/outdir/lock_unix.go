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
		return nil, ErrBusy
	}
	return func() { d.Close() }, nil
}
