// Package parallel splits work that is the same for many items or pixels between
// goroutines. What is summed must not depend on how many there are: see Parts.
package parallel

import "sync"

// Items calls do(0..n-1) from so many goroutines, at least one.
func Items(n, workers int, do func(i int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, min(workers, n)) {
		wg.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
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
