package stats

import "math"

// Few is how many numbers Ranked takes.
const Few = 64

// Ranked gives the k-th and the l-th smallest (from 0) of the first n of few numbers; it
// overwrites what follows them. For so few, counting for each how many are less takes
// less time than bringing them into an order.
func Ranked(x *[Few]float32, n, k, l int) (kth, lth float32) {
	for i := n; i < Few; i++ {
		x[i] = float32(math.Inf(1)) // all others are less
	}
	return ranked(x, int32(k), int32(l))
}
