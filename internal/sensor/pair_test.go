package sensor

import (
	"math/rand/v2"
	"testing"
)

// The comparison of two flats of 4 megapixels.
func BenchmarkFlatPair(b *testing.B) {
	const side = 2048
	x, y := make([]uint16, side*side), make([]uint16, side*side)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range x {
		x[i], y[i] = uint16(20000+150*rng.NormFloat64()), uint16(20000+150*rng.NormFloat64())
	}
	b.SetBytes(4 * side * side)
	for b.Loop() {
		measurePair(x, y, side, 1, 0, 0, 1000, 10, topSample, 1)
	}
}
