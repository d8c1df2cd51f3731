package stars

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// What is found near a point is what comparing it with every star finds, in rising order
// of y: of no star, of few and of many, spread out, crowded into few rows or into one,
// within a little, a lot and everywhere.
func TestNeighboursAgainstAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for _, n := range []int{0, 1, 2, 13, 500} {
		for _, height := range []float64{0, 3, 4000} {
			list := make([]Star, n)
			for i := range list {
				list[i].X, list[i].Y = 300*rng.Float64(), math.Floor(height*rng.Float64())
			}
			near := NewNeighbours(list)
			for range 40 {
				x, y := 400*rng.Float64()-50, (height+100)*rng.Float64()-50
				for _, reach := range []float64{0, 2, 40, math.Inf(1)} {
					var got, want []int
					near.Within(x, y, reach, func(i int) { got = append(got, i) })
					for i, s := range list {
						if (s.X-x)*(s.X-x)+(s.Y-y)*(s.Y-y) <= reach*reach {
							want = append(want, i)
						}
					}
					slices.SortStableFunc(want, func(a, b int) int { return int(list[a].Y - list[b].Y) })
					if !slices.Equal(got, want) {
						t.Fatalf("of %d stars over %g px within %g px: %v, want %v", n, height, reach, got, want)
					}
				}
			}
		}
	}
}
