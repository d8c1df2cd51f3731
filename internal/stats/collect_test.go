package stats

import (
	"runtime"
	"runtime/debug"
	"testing"
)

// Garbage is collected before a slice that is a large part of the limit, and for no other.
func TestMakeWay(t *testing.T) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(64 << 20))
	Floats(1 << 20) // 4 MiB, a sixteenth: nothing is collected for it
	Floats(4 << 20)
	runtime.ReadMemStats(&after)
	if n := after.NumForcedGC - before.NumForcedGC; n != 1 {
		t.Errorf("collected %d times, want once, for the large one", n)
	}
	debug.SetMemoryLimit(1 << 40)
	Floats(4 << 20)
	runtime.ReadMemStats(&before)
	if n := before.NumForcedGC - after.NumForcedGC; n != 0 {
		t.Errorf("collected %d times far from the limit", n)
	}
}
