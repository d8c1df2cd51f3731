package stats

import (
	"math"
	"testing"
)

// What is asked for may lie anywhere, outside the picture and all memory too.
func TestFetch(t *testing.T) {
	picture := []float32{1, 2, 3}
	Fetch(picture, 1, nil)
	Fetch(picture, 1, []int32{0, -1, 1, -50000, 50000, math.MinInt32, math.MaxInt32})
	if picture[0] != 1 || picture[1] != 2 || picture[2] != 3 {
		t.Errorf("asking for a picture made it %v", picture)
	}
}
