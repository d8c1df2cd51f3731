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

// A galaxy that fills the field has more knots than stars are before it. What stands beside
// a knot is of any brightness: the stars alone tell that all are there twice, and that they
// are not.
func TestDoubledStarsAmongKnots(t *testing.T) {
	const err, share, dx, dy = 100.0, 0.3, -7.0, 17.0
	for seed := range uint64(20) {
		for name, jump := range map[string]bool{"jumped": true, "did not": false} {
			rng := rand.New(rand.NewPCG(seed, 2))
			var list []stars.Star
			add := func(x, y, flux float64, knot bool) {
				list = append(list, stars.Star{X: x + 0.2*rng.NormFloat64(), Y: y + 0.2*rng.NormFloat64(), Flux: flux + err*rng.NormFloat64(), FluxErr: err, Knot: knot})
			}
			for i := range 76 {
				x, y, flux, knot := 420*rng.Float64(), 420*rng.Float64(), 400*math.Exp(5*rng.Float64()), i%4 > 0
				off := [2]float64{dx, dy}
				if !jump {
					off = [2]float64{60 * rng.NormFloat64(), 60 * rng.NormFloat64()}
				}
				second := flux * share / (1 - share)
				if knot { // another is where its second image would be, as a rule
					second *= math.Exp(1.2 * rng.NormFloat64())
				}
				add(x, y, flux, knot)
				if second > 5*err {
					add(x+off[0], y+off[1], second, knot)
				}
			}
			slices.SortFunc(list, func(a, b stars.Star) int { return int(b.Flux - a.Flux) })
			d, _ := Doubled(list, 420, 420)
			// 0.05: of some ten companions each is off by a tenth.
			if d.Is() != jump || jump && math.Abs(d.Share.V-share) > 0.05 {
				t.Errorf("%s, seed %d, %d images: %v at %.1f, %.1f", name, seed, len(list), d.Share, d.X, d.Y)
			}
		}
	}
}
