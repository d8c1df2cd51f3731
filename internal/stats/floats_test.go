package stats

import (
	"runtime"
	"testing"
)

// Small, just large enough to be asked for in huge pages, and odd sizes: all of
// it is there, is its own, and stays over a collection.
func TestFloats(t *testing.T) {
	var all [][]float32
	for _, n := range []int{0, 1, 2 << 20, 2<<20 + 1, 5<<20 + 3} {
		s := Floats(n)
		if len(s) != n {
			t.Fatalf("%d numbers, want %d", len(s), n)
		}
		for i := range s {
			s[i] = float32(n ^ i)
		}
		all = append(all, s)
	}
	runtime.GC()
	for _, s := range all {
		for i := range s {
			if s[i] != float32(len(s)^i) {
				t.Fatalf("number %d of %d is %g", i, len(s), s[i])
			}
		}
	}
}
