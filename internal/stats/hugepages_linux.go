package stats

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// askHugePages asks the system for memory in huge pages, where it hands these out on
// request only: the first touch of a hundred megabytes in small ones can take longer
// than reading a frame does. The system may decline, which changes nothing but time.
func askHugePages(b []byte) {
	skip := -uintptr(unsafe.Pointer(&b[0])) % hugePage
	whole := (uintptr(len(b)) - skip) / hugePage * hugePage
	_ = unix.Madvise(b[skip:skip+whole], unix.MADV_HUGEPAGE)
}
