package stats

import (
	"strings"
	"unsafe"
)

// hugePage is what large memory is best asked for in, bytes.
const hugePage = 2 << 20

// Floats is a new slice for n pixels of a frame, all of which must be written before
// they are read: a large one holds what was there before. To clear a hundred megabytes
// takes longer than to read a frame into them.
func Floats(n int) []float32 {
	MakeWay(4 * n)
	if 4*n < 4*hugePage {
		return make([]float32, n)
	}
	var b strings.Builder // the only way that the library has to memory that is not cleared
	b.Grow(4 * n)
	b.WriteByte(0)
	first := unsafe.Pointer(unsafe.StringData(b.String()))
	askHugePages(unsafe.Slice((*byte)(first), 4*n))
	return unsafe.Slice((*float32)(first), n)
}

func resized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	s = s[:n]
	clear(s)
	return s
}
