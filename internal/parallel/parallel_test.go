package parallel

import (
	"slices"
	"sync/atomic"
	"testing"
)

// Every item comes once, whatever the numbers of items and of goroutines.
func TestEveryItemOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 15, 16, 17, 1000} {
		for _, workers := range []int{-1, 0, 1, 3, 8} {
			seen := make([]atomic.Int32, n)
			count := func(_, from, to int) {
				for i := from; i < to; i++ {
					seen[i].Add(1)
				}
			}
			Items(n, workers, func(i int) { count(0, i, i+1) })
			Parts(n, workers, count)
			Ranges(n, workers, count)
			for i := range seen {
				if got := seen[i].Load(); got != 3 {
					t.Errorf("%d items, %d goroutines: item %d came %d times in three ways", n, workers, i, got)
				}
			}
		}
	}
}

// The parts of a sum are the same for every number of goroutines.
func TestPartsDoNotDependOnGoroutines(t *testing.T) {
	bounds := func(workers int) []int {
		ends := make([]int, SumParts)
		Parts(1003, workers, func(p, _, to int) { ends[p] = to })
		return ends
	}
	for _, workers := range []int{2, 5, 40} {
		if got, want := bounds(workers), bounds(1); !slices.Equal(got, want) {
			t.Errorf("%d goroutines: parts end at %v, with one at %v", workers, got, want)
		}
	}
}
