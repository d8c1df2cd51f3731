package measure

import (
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
)

// A size taken for the sake of some sharp points is looked at beside the one before where it
// costs most of the stars, and only there.
func TestSizeThatDiscardsStars(t *testing.T) {
	before := &searched{found: detect.Found{Stars: make([]stars.Star, 560)}}
	for _, c := range []struct {
		before *searched
		left   int
		want   bool
	}{{before, 254, true}, {before, 300, false}, {nil, 10, false}} {
		if got := (&searched{before: c.before}).discards(make([]stars.Star, c.left)); got != c.want {
			t.Errorf("%d left, another size before: %v: %v", c.left, c.before != nil, got)
		}
	}
}
