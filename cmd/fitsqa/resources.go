package main

import (
	"runtime"
	"runtime/debug"
	"sync"

	"fitsqa/internal/night"
)

var processors = runtime.GOMAXPROCS(0)

// The collector begins when garbage is so large a part of what is held, in percent. To
// take memory from the system and clear it costs more than to collect what stands by:
// frames are held by the hundred megabytes, and as much garbage would be fresh memory.
const garbage = 10

// untouched is held and never used, so that it takes no memory: outside of frames a few
// MiB are held, and the collector would begin every few milliseconds.
var untouched = sync.OnceValue(func() []byte { return make([]byte, 256<<20) })

// keepWithin holds the program to the memory and to the number of processors that the
// settings allow.
func keepWithin(s *night.Settings) {
	debug.SetGCPercent(garbage)
	debug.SetMemoryLimit(int64(s.MemoryMiB)<<20 + int64(len(untouched())))
	runtime.GOMAXPROCS(min(processors, s.Workers))
}
