package stats

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// Floats is a new slice of n zeros for the pixels of a frame. A large one is
// asked of the system in huge pages, where it hands these out on request only:
// the first touch of a hundred megabytes in small ones can take longer than
// reading a frame does. The system may decline, which changes nothing but time.
func Floats(n int) []float32 {
	MakeWay(4 * n)
	s := make([]float32, n)
	const huge = 2 << 20
	if 4*n >= 4*huge {
		b := unsafe.Slice((*byte)(unsafe.Pointer(&s[0])), 4*n)
		skip := -uintptr(unsafe.Pointer(&b[0])) % huge
		whole := (uintptr(len(b)) - skip) / huge * huge
		_ = unix.Madvise(b[skip:skip+whole], unix.MADV_HUGEPAGE)
	}
	return s
}
