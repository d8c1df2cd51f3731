//go:build !amd64

package stats

// Fetch asks the memory for numbers of a picture that are soon looked at; here the
// processor finds out by itself.
func Fetch([]float32, int, []int32) {}
