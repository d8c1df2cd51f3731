//go:build !linux

package stats

// Floats is a new slice of n zeros for the pixels of a frame.
func Floats(n int) []float32 {
	MakeWay(4 * n)
	return make([]float32, n)
}
