package profile

import (
	"slices"
	"testing"
)

// A star that fills its pixels, or a galaxy's core, is wide and outweighs the rest: it must not
// tell the scale, though fits of faint stars among others be as wide as it.
func TestWideBrightStarDoesNotTellTheScale(t *testing.T) {
	widths := []float64{2.67, 2.28, 2.33, 2.26, 2.24, 2.27, 2.55, 2.63, 2.77, 2.67}
	w := []float64{1794, 184, 272, 148, 4, 1.1, 0.4, 0.3, 1, 0.2}
	capOdd(w, widths)
	if most := slices.Max(w[1:]); w[0] > most/10 {
		t.Errorf("the wide star weighs %v, the best of the others %v", w[0], most)
	}
	w[0], widths[0] = 1794, 2.34
	if capOdd(w, widths); w[0] != 1794 {
		t.Errorf("a star as wide as the others weighs %v, before 1794", w[0])
	}
}
