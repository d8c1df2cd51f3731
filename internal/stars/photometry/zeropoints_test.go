package photometry

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Most of a group lies under cloud in patches, thin or thick: its zero points rest all the
// same, and what its few clear fields know of the stars decides.
func TestZeroPointsRestUnderPatchyCloud(t *testing.T) {
	const w, h = 1000, 700
	for _, n := range []int{60, 300} {
		for _, depth := range []float64{0.15, 0.5, 1.2} {
			for seed := range uint64(3) {
				rng := rand.New(rand.NewPCG(seed, uint64(n)))
				sky := simulated.NewSky(rng, n, 100, w, h)
				var fields []*stars.Field
				for k := range 14 {
					f := sky.View(rng, w, h, 15*rng.NormFloat64(), 15*rng.NormFloat64(), 0, 1, false, simulated.All)
					if k < 11 {
						f = through(f, func(x, y float64) float64 { return patchy(depth, 80, x, y, 70*float64(k)) })
					}
					fields = append(fields, f)
				}
				al, _ := registration.Align(fields)
				z := newZeroPoints(fields, al, nil)
				z.solve()
				before := slices.Clone(z.zero)
				for range 3 {
					z.solveStars()
					z.solveFields()
					z.eachField(func(j int) { z.trust(j, false) })
				}
				var moved []float64
				for j, v := range z.zero {
					moved = append(moved, v-before[j])
				}
				// By what all move no ratio tells.
				if apart := slices.Max(moved) - slices.Min(moved); apart > 0.003 {
					t.Errorf("%d stars, cloud of depth %g, seed %d: zero points move %.4f apart", n, depth, seed, apart)
				}
				if clear := z.zero[11:]; slices.Max(clear)-slices.Min(clear) > 0.03 {
					t.Errorf("%d stars, cloud of depth %g, seed %d: clear fields %.3f", n, depth, seed, clear)
				}
			}
		}
	}
}

// Of a field through patchy cloud the light has an error that it keeps to.
func TestErrorsUnderPatchyCloud(t *testing.T) {
	const w, h = 1000, 700
	var squares, n float64
	for seed := range simulated.Draws(10) {
		rng := rand.New(rand.NewPCG(seed, 71))
		sky := simulated.NewSky(rng, 300, 100, w, h)
		var fields []*stars.Field
		var truth []float64
		for k := range 12 {
			let := func(x, y float64) float64 { return 1 }
			if k < 6 {
				let = func(x, y float64) float64 { return patchy(0.3+0.15*float64(k), 80, x, y, 70*float64(k)) }
			}
			f := sky.View(rng, w, h, 15*rng.NormFloat64(), 15*rng.NormFloat64(), 0, 1, false, simulated.All)
			fields, truth = append(fields, through(f, let)), append(truth, lightThrough(let, w, h))
		}
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil)[:6] {
			z := (got.Ratio.V - truth[k]) / got.Ratio.Err
			squares, n = squares+z*z, n+1
		}
	}
	// With errors of the stars alone it is 5: those of patches are most of it.
	if z := math.Sqrt(squares / n); !(z < 2) {
		t.Errorf("light is %.1f of its errors off", z)
	}
}

// lightThrough is the light over a field of what cloud lets through.
func lightThrough(let func(x, y float64) float64, w, h float64) (sum float64) {
	const side = 40
	for i := range side * side {
		sum += let((float64(i%side)+0.5)/side*w, (float64(i/side)+0.5)/side*h) / side / side
	}
	return sum
}

// Stars that shine a little through a cover over half of a field are no patches of cloud.
// Behind the cover the faint ones are not seen, so that most of all stars are in the open and
// most of the bright ones are not.
func TestCoverMakesNoPatches(t *testing.T) {
	const n, err = 40, 0.03
	for _, passes := range []float64{0.02, 0.06, 0.15, 1} {
		rng := rand.New(rand.NewPCG(1, 72))
		z := &zeroPoints{why: make([]fact.Code, 1), obs: make([][]observation, 1), zero: make([]float64, 1), uneven: make([]float64, 1)}
		for k := range n {
			ln := 12 - 0.1*float64(k)
			let := 0.0
			if k < n/2 && k%5 < 3 {
				let = math.Log(passes)
			}
			z.star, z.seen = append(z.star, ln), append(z.seen, 6)
			z.obs[0] = append(z.obs[0], observation{star: int32(k), ln: ln + let + err*rng.NormFloat64(), sigma: err, bright: 1, share: 1})
		}
		for range 20 {
			z.unevenOf(0)
		}
		// A standard deviation of twenty by their median one scatters by 1.17/√20, a fourth:
		// three times that more is 1.5 times the error beside it, in squares.
		if !(z.uneven[0] < 1.5*err) {
			t.Errorf("%g passes: stars uneven by %.3f beyond their errors of %g", passes, z.uneven[0], err)
		}
	}
}
