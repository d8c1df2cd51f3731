package frames

import (
	"fmt"
	"math"
	"testing"
)

// A look comes back from its numbers as it was; other numbers are refused.
func TestLookFromItsNumbers(t *testing.T) {
	was := look{taken: true, median: 500.5, noise: 1.25, peak: 65535, stars: 7, phases: [4]float64{1, 2, 3, 4}, samples: 900, spread: math.NaN()}
	var got look
	if !got.recall(was.numbers()) || fmt.Sprintf("%#v", got) != fmt.Sprintf("%#v", was) {
		t.Errorf("%#v, want %#v", got, was)
	}
	for _, n := range [][]float64{nil, was.numbers()[1:], append(was.numbers(), 1)} {
		if got.recall(n) {
			t.Errorf("%d numbers were taken", len(n))
		}
	}
}
