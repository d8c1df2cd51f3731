package plane

import (
	"slices"
	"testing"
)

// A network that sorts all zeros and ones sorts anything (Knuth, The Art of Computer
// Programming 3, 5.3.4, theorem Z).
func TestSortEight(t *testing.T) {
	for bits := range 1 << 8 {
		var v [8]float32
		for i := range v {
			v[i] = float32(bits >> i & 1)
		}
		was := v
		if sortEight(&v); !slices.IsSorted(v[:]) {
			t.Errorf("%v comes out as %v", was, v)
		}
	}
}
