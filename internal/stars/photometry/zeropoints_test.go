package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Where light is lost to one side (each star is a tenth fainter in one field of four)
// means and medians differ, and every round moves all zero points alike: they rest all
// the same, as ratios do.
func TestZeroPointsRestWhileTheyDrift(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	const w, h = 1200, 900
	sky := simulated.NewSky(rng, 1500, 60, w, h)
	var fields []*stars.Field
	for range 8 {
		f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
		for i := range f.Stars {
			if rng.IntN(4) == 0 {
				f.Stars[i].Flux *= 0.9
			}
		}
		fields = append(fields, f)
	}
	al, _ := registration.Align(fields)
	z := newZeroPoints(fields, al, nil)
	z.solve()
	before := z.zero[0]
	z.solveStars()
	if apart := z.solveFields(); apart > 1e-4 {
		t.Errorf("zero points move apart by %.1e", apart)
	}
	if drift := math.Abs(z.zero[0] - before); drift < 1e-3 {
		t.Errorf("all drift by %.1e: nothing is tried here", drift)
	}
}
