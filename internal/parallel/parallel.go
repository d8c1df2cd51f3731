// Package parallel splits work that is the same for many items or pixels between
// goroutines. What is summed must not depend on how many there are: see Parts.
package parallel

import (
	"sync"
	"sync/atomic"
)

// Items calls do(0..n-1) from so many goroutines, at least one; the first is the caller's.
func Items(n, workers int, do func(i int)) {
	var next atomic.Int64
	work := func() {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			do(i)
		}
	}
	var wg sync.WaitGroup
	for range min(workers, n) - 1 {
		wg.Go(work)
	}
	work()
	wg.Wait()
}

// SumParts is into how many parts long sums of floating-point numbers are split:
// the same however many goroutines there are, so that the sum is the same too.
const SumParts = 16

// Parts splits 0..n-1 into SumParts parts that so many goroutines share.
func Parts(n, workers int, do func(part, from, to int)) {
	Items(SumParts, workers, func(p int) { do(p, n*p/SumParts, n*(p+1)/SumParts) })
}

// Ranges splits 0..n-1 between so many goroutines.
func Ranges(n, workers int, do func(worker, from, to int)) {
	workers = max(1, workers)
	Items(workers, workers, func(w int) { do(w, n*w/workers, n*(w+1)/workers) })
}
