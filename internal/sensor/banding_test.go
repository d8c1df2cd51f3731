package sensor

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// The pattern that stays is separated from the one that changes by how the mean of the
// frames holds them, with three frames as with thirty: 1/n of the latter is in it.
func TestBandingThatStaysAndThatChanges(t *testing.T) {
	const width, height, noise = 400, 2000, 4.0
	for _, frames := range []int{3, 30} {
		for _, c := range []struct{ fixed, moving float64 }{{0, 0}, {1, 0}, {0, 1}, {0.5, 1}, {1, 0.5}} {
			rng := rand.New(rand.NewPCG(uint64(frames), 7))
			lines := make([][]float64, frames)
			stays := make([]float64, height)
			for y := range stays {
				stays[y] = c.fixed * rng.NormFloat64()
			}
			mean := make([]float64, height)
			for f := range lines {
				lines[f] = make([]float64, height)
				for y := range lines[f] {
					lines[f][y] = stays[y] + c.moving*rng.NormFloat64() + noise/math.Sqrt(width)*rng.NormFloat64()
					mean[y] += lines[f][y] / float64(frames)
				}
			}
			var diffs [][]float64
			for f := 1; f < frames; f++ {
				d := make([]float64, height)
				for y := range d {
					d[y] = lines[f][y] - lines[f-1][y]
				}
				diffs = append(diffs, d)
			}
			b := measureBanding(diffs, mean, width, frames, stats.Known(noise, 0, frames))
			// A spread of 2000 lines is known to 2.6 %, twice in each figure; what is
			// not there shows by the root of what that leaves of the other (0.3 of it).
			tolerance := 0.08*max(c.fixed, c.moving) + 0.02
			if c.fixed == 0 || c.moving == 0 {
				tolerance = 0.3*max(c.fixed, c.moving) + 0.1
			}
			if !(math.Abs(b.fixed-c.fixed) <= tolerance) || !(math.Abs(b.temp-c.moving) <= tolerance) {
				t.Errorf("%d frames, %g ADU stay and %g change: told %.3f and %.3f", frames, c.fixed, c.moving, b.fixed, b.temp)
			}
		}
	}
}
