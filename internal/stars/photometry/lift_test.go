package photometry

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
)

// Where most of a field's stars are behind a cover that lets an eighth through, those beside
// it are the clear ones; a few that are so much brighter than the others are none of these.
func TestZeroPointBesideCover(t *testing.T) {
	for beside, want := range map[int]float64{12: 0, 4: -2} {
		z := &zeroPoints{fields: []*stars.Field{{Count: 40}}, obs: make([][]observation, 1), zero: []float64{-2}, alone: []int{40}, sparse: []bool{false}, star: make([]float64, 40), seen: make([]int, 40)}
		for k := range 40 {
			o := observation{star: int32(k), ln: -2, faint: -3}
			if k < beside {
				o.ln = 0
			}
			z.obs[0], z.seen[k] = append(z.obs[0], o), 5
		}
		if z.lift(0); !(math.Abs(z.zero[0]-want) <= 1e-9) {
			t.Errorf("%d of 40 beside it: zero point %.2f, want %.2f", beside, z.zero[0], want)
		}
	}
}
