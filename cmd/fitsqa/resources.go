package main

import (
	"runtime"
	"runtime/debug"
	"sync"

	"fitsqa/internal/night"
)

// processors is how many there are for this program.
var processors = runtime.GOMAXPROCS(0)

// untouched is held and never used, so that it takes no memory. The collector begins
// when there is as much garbage as is held, which outside of frames is a few MiB: it
// would begin every few milliseconds.
var untouched = sync.OnceValue(func() []byte { return make([]byte, 64<<20) })

// keepWithin holds the program to the memory and to the number of processors that the
// settings allow. The collector is told of the limit as well: it would let garbage
// double the heap.
func keepWithin(s *night.Settings) {
	debug.SetMemoryLimit(int64(s.MemoryMiB)<<20 + int64(len(untouched())))
	runtime.GOMAXPROCS(min(processors, s.Workers))
}
