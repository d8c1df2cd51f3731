package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
)

// A sparse field that jumped is seen to be doubled by stars few of which have a companion
// far above the noise; the same field without the jump is not, nor with as many stray
// companions.
func TestDoubledSparseField(t *testing.T) {
	t.Run("a third", func(t *testing.T) { sparseDoubled(t, 0.36, 2, 11, 0) })
	// Of a few draws hardly six stars have a second image that is seen at all.
	t.Run("a fifth", func(t *testing.T) { sparseDoubled(t, 0.2, 0.7, -17.7, 3) })
}

func sparseDoubled(t *testing.T, share, dx, dy float64, mayMiss int) {
	const err = 300.0
	missed := 0
	for seed := range uint64(20) {
		for name, jump := range map[string]bool{"jumped": true, "did not": false} {
			rng := rand.New(rand.NewPCG(seed, 1))
			var list []stars.Star
			add := func(x, y, flux float64) {
				flux += err * rng.NormFloat64()
				blur := 0.8 * err / flux
				if flux > 5*err {
					list = append(list, stars.Star{X: x + blur*rng.NormFloat64(), Y: y + blur*rng.NormFloat64(), Flux: flux, FluxErr: err})
				}
			}
			for i := range 30 {
				x, y, flux := 640*rng.Float64(), 480*rng.Float64(), 40000/math.Pow(float64(i+1), 0.8)
				off := [2]float64{dx, dy}
				if !jump {
					off = [2]float64{60 * rng.NormFloat64(), 60 * rng.NormFloat64()}
				}
				add(x, y, flux*(1-share))
				add(x+off[0], y+off[1], flux*share)
			}
			slices.SortFunc(list, func(a, b stars.Star) int { return int(b.Flux - a.Flux) })
			d, _ := Doubled(list, 640, 480)
			if jump && !d.Is() && missed < mayMiss {
				missed++
				continue
			}
			if d.Is() != jump || jump && math.Abs(d.Share.V-share) > 0.05 {
				t.Errorf("%s, seed %d, %d stars: %v at %.1f, %.1f", name, seed, len(list), d.Share, d.X, d.Y)
			}
		}
	}
}
