package plate

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// Without a hint the whole sky is searched, at all scales.
func TestSolvesBlind(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("searches the whole sky")
	}
	nan := math.NaN()
	rng := rand.New(rand.NewPCG(31, 32))
	for _, c := range []camera{{ra: 83, dec: -5, width: 3}, {ra: 190, dec: -62, width: 8, mirrored: true}} {
		c.angle, c.faint = 360*rng.Float64(), 800
		f := c.frame(rng)
		for _, h := range []Hint{{nan, nan, c.truth().Scale * 1.1}, {nan, nan, nan}} {
			began := time.Now()
			ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
			got := Solve(ctx, f, h)
			cancel()
			t.Logf("%g° wide, hint %v: %v %v", c.width, h, time.Since(began), got.Why)
			c.check(t, "blind", got)
		}
	}
}
