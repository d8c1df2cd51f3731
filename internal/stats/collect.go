package stats

import (
	"runtime"
	"runtime/debug"
)

// largePart is how small a part of the limit of memory is no matter to the collector.
const largePart = 16

// MakeWay has the collector take away garbage before so many bytes are asked for,
// where these are a large part of the limit that was set for memory (by
// debug.SetMemoryLimit). The collector itself begins when the limit is near, and what
// is asked for in one piece would pass it before it has ended.
func MakeWay(bytes int) {
	if int64(bytes) > debug.SetMemoryLimit(-1)/largePart {
		runtime.GC()
	}
}
