package cache

import (
	"os"
	"syscall"
)

// changed is when anything about a file last changed, ns, by the system's
// clock: no program can set it.
func changed(info os.FileInfo) int64 {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return s.Ctim.Nano()
	}
	return 0
}
