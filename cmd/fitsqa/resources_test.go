package main

import (
	"runtime"
	"testing"

	"fitsqa/internal/night"
)

// No stage of a run may take more processors than --workers allows.
func TestWorkersBoundProcessors(t *testing.T) {
	defer runtime.GOMAXPROCS(processors)
	for _, c := range []struct{ workers, want int }{{1, 1}, {256, processors}} {
		keepWithin(&night.Settings{Workers: c.workers, MemoryMiB: 1400})
		if got := runtime.GOMAXPROCS(0); got != c.want {
			t.Errorf("%d workers: %d processors, want %d", c.workers, got, c.want)
		}
	}
}
