package subs

import (
	"math"
	"testing"
	"time"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// What stands before the telescope takes the sky with the stars, in the same share. Cloud
// leaves the sky; a sky that lost twice what the stars lost, or half of it, fell for itself.
// Half the light is gone; where it is gone from one side of the field the slope from part to
// part tells, beside a sky that rose by a tenth all over it.
func TestShadedTakesSkyWithStars(t *testing.T) {
	sub := func(minute int, light, sky func(part int) float64) *evidence {
		e := &evidence{Sub: &Sub{Field: &stars.Field{}}}
		e.Start = time.Date(2025, 10, 20, 22, minute, 0, 0, time.UTC)
		for k := range stars.Parts * stars.Parts {
			e.Transparency.Map = append(e.Transparency.Map, light(k%stars.Parts))
			e.Field.NoiseParts = append(e.Field.NoiseParts, math.Sqrt(sky(k%stars.Parts)))
		}
		e.Transparency.Ratio = stats.Known(stats.Mean(e.Transparency.Map), 0.01, 50)
		e.skyByNoise = true
		return e
	}
	even := func(v float64) func(int) float64 { return func(int) float64 { return v } }
	side := func(low, high float64) func(int) float64 {
		return func(part int) float64 {
			if part < stars.Parts/2 {
				return low
			}
			return high
		}
	}
	for _, c := range []struct {
		name       string
		light, sky func(part int) float64
		want       bool
	}{
		{"cloud", even(0.5), even(1), false},
		{"a net", even(0.5), even(0.5), true},
		{"a sky that fell a little", even(0.6), even(0.85), false},  // 0.38 of what the stars lost
		{"a sky that fell for itself", even(0.8), even(0.6), false}, // 2 times that
		{"a tree at one side", side(0.2, 1), side(0.2*1.1, 1.1), true},
		{"cloud at one side", side(0.2, 1), even(0.5), false},
		{"a tree, and a sky that fell by far more", side(0.5, 1), side(0.05, 0.95), false}, // slope 1.8
	} {
		clear, e := sub(0, even(1), even(1)), sub(5, c.light, c.sky)
		clear.mates, e.mates = []*evidence{clear, e}, []*evidence{clear, e}
		if got := e.shaded(); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
