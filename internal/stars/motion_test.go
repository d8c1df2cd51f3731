package stars

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/stats"
)

// A night of sixty subs with dither, drift, field rotation, one jump and a pier
// flip: each figure comes back within what sixty subs can tell.
func TestMotion(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 9))
		start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
		var al []Alignment
		var times []time.Time
		const dither, vx, vy, turn = 3.0, 4.0, -3.0, 0.06
		for i := range 60 {
			at := time.Duration(i) * 5 * time.Minute
			h := at.Hours()
			x, y := vx*h+dither/math.Sqrt2*rng.NormFloat64(), vy*h+dither/math.Sqrt2*rng.NormFloat64()
			rot := turn * h
			if i >= 20 && i < 40 {
				x += 60
			}
			a := Alignment{}
			if i >= 40 {
				x, y, rot, a.Flipped = -x, -y, rot-180, true
			}
			a.ShiftX, a.ShiftY, a.RotationDeg = stats.Known(x, 0.02, 50), stats.Known(y, 0.02, 50), stats.Known(rot+0.002*rng.NormFloat64(), 0.002, 50)
			al, times = append(al, a), append(times, start.Add(at))
		}
		al[5] = unmatched("cloud")
		m := MotionOf(al, times)
		// Dithers of 3 px over stretches of 1.6 h leave about 0.5 px/h a direction.
		if math.Abs(m.Drift.V-5) > 1.5 || math.Abs(m.Dither.V-dither) > 0.5 || math.Abs(m.Rotation.V-turn) > 0.01 {
			t.Errorf("seed %d: drift %.2f px/h, rotation %.4f °/h", seed, m.Drift.V, m.Rotation.V)
		}
		if !slices.Equal(m.Jumps, []int{20}) {
			t.Errorf("seed %d: jumps before %v, want 20", seed, m.Jumps)
		}
	}
}

func TestMotionNeedsTimes(t *testing.T) {
	if m := MotionOf(make([]Alignment, 4), make([]time.Time, 4)); m.Drift.OK() || m.Drift.Why == "" {
		t.Errorf("drift %v from subs without times", m.Drift)
	}
}
