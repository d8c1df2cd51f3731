package registration

import (
	"math"
	"math/rand/v2"
	"runtime"
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
		// Dithers of 3 px over stretches of 1.6 h leave about 0.5 px/h a direction, and
		// 53 triples 0.28 px of the dither; three times that.
		if !(math.Abs(m.Drift.V-5) <= 1.5) || !(math.Abs(m.Dither.V-dither) <= 0.85) || !(math.Abs(m.Rotation.V-turn) <= 0.01) {
			t.Errorf("seed %d: drift %.2f px/h, rotation %.4f °/h", seed, m.Drift.V, m.Rotation.V)
		}
		if !slices.Equal(m.Jumps, []int{20}) {
			t.Errorf("seed %d: jumps before %v, want 20", seed, m.Jumps)
		}
	}
}

// Thousands of subs give drift and rotation as well as their number promises, in memory
// that grows with it and not with the number of their pairs.
func TestMotionOfThousands(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	const n, vx, vy, turn = 4000, 4.0, -3.0, 0.06
	al, times := make([]Alignment, n), make([]time.Time, n)
	for i := range al {
		times[i] = start.Add(time.Duration(i) * 8 * time.Second)
		h := times[i].Sub(start).Hours()
		al[i].ShiftX, al[i].ShiftY = stats.Known(vx*h+2*rng.NormFloat64(), 0.02, 50), stats.Known(vy*h+2*rng.NormFloat64(), 0.02, 50)
		al[i].RotationDeg = stats.Known(turn*h+0.002*rng.NormFloat64(), 0.002, 50)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	m := MotionOf(al, times)
	runtime.ReadMemStats(&after)
	// A straight line through them would leave sqrt(12/4000)/8.9 h of 2 px and of 0.002°:
	// 0.012 px/h and 0.000012 °/h; five times that.
	if !(math.Abs(m.Drift.V-5) <= 0.06) || !(math.Abs(m.Rotation.V-turn) <= 0.00006) {
		t.Errorf("drift %.3f px/h, rotation %.6f °/h", m.Drift.V, m.Rotation.V)
	}
	// 200 pairs a sub of three slopes are 5 kB, what lists copy as they grow and medians
	// of them 32; all pairs would take 250.
	if took := after.TotalAlloc - before.TotalAlloc; took > n*64<<10 {
		t.Errorf("%d subs took %d MiB", n, took>>20)
	}
}

// A camera turned between two subs, as a rotator does, is no field rotation.
func TestTurnedCamera(t *testing.T) {
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	al, times := make([]Alignment, 20), make([]time.Time, 20)
	for i := range al {
		times[i] = start.Add(time.Duration(i) * 2 * time.Minute)
		rot := 0.3 * times[i].Sub(start).Hours()
		if i >= 10 {
			rot += 90
		}
		al[i].ShiftX, al[i].ShiftY, al[i].RotationDeg = stats.Known(float64(i%2), 0.02, 50), stats.Known(0, 0.02, 50), stats.Known(rot, 0.002, 50)
	}
	// Exact turns: the slope is, but for rounding.
	if m := MotionOf(al, times); !(math.Abs(m.Rotation.V-0.3) <= 1e-9) || len(m.Jumps) > 0 {
		t.Errorf("rotation %v °/h, jumps %v", m.Rotation.V, m.Jumps)
	}
}

// Without times there is no drift, but a dither: that of 40 subs about the middle
// of their own side of the pier.
func TestMotionWithoutTimes(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 10))
		al := make([]Alignment, 40)
		for i := range al {
			x, y := 4/math.Sqrt2*rng.NormFloat64(), 4/math.Sqrt2*rng.NormFloat64()
			if al[i].Flipped = i >= 15; al[i].Flipped {
				x += 300
			}
			al[i].ShiftX, al[i].ShiftY, al[i].RotationDeg = stats.Known(x, 0.02, 50), stats.Known(y, 0.02, 50), stats.Known(0, 0.002, 50)
		}
		m := MotionOf(al, make([]time.Time, len(al)))
		if m.Drift.OK() || m.Drift.Why.Code == "" || len(m.Jumps) > 0 {
			t.Errorf("seed %d: drift %v, jumps %v from subs without times", seed, m.Drift, m.Jumps)
		}
		// 36 triples tell as much as 18.5 free ones: 4/(2 sqrt 18.5) = 0.46.
		if !(math.Abs(m.Dither.Err-0.46) <= 0.2) || !(math.Abs(m.Dither.V-4) <= 3*0.46) {
			t.Errorf("seed %d: dither %v ± %v px, want 4 ± 0.46", seed, m.Dither.V, m.Dither.Err)
		}
	}
	if m := MotionOf(make([]Alignment, 2), make([]time.Time, 2)); m.Dither.OK() || m.Dither.Why.Code == "" {
		t.Errorf("dither %v from two subs", m.Dither)
	}
}

// The dither of short series comes out right on average, although a middle and
// a drift are taken from the same few subs.
func TestDitherOfShortSeries(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 11))
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	for _, n := range []int{5, 8, 20} {
		var square float64
		const tries = 400
		for range tries {
			al, times := make([]Alignment, n), make([]time.Time, n)
			for i := range al {
				times[i] = start.Add(time.Duration(i) * 5 * time.Minute)
				al[i].ShiftX, al[i].ShiftY = stats.Known(2*rng.NormFloat64(), 0.02, 50), stats.Known(30*times[i].Sub(start).Hours()+2*rng.NormFloat64(), 0.02, 50)
			}
			d := MotionOf(al, times).Dither.V
			square += d * d / tries
		}
		// 2 px along x and y; 400 series of three triples or more leave 4 %.
		if got := math.Sqrt(square); !(math.Abs(got/math.Sqrt(8)-1) <= 0.08) {
			t.Errorf("%d subs: dither %.2f px, want %.2f", n, got, math.Sqrt(8))
		}
	}
}

// A path that curves (flexure, refraction, a polar axis that is off) is no dither,
// whether times are known or not: 3 px around paths of up to 300 px.
func TestDitherAlongCurvedPaths(t *testing.T) {
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	for seed := range uint64(4) {
		for _, bow := range []float64{0, 30, 100, 300} {
			for _, timed := range []bool{true, false} {
				rng := rand.New(rand.NewPCG(seed, 12))
				const n = 60
				al, times := make([]Alignment, n), make([]time.Time, n)
				for i := range al {
					if timed {
						times[i] = start.Add(time.Duration(i) * 3 * time.Minute)
					}
					u := float64(i) / n
					al[i].ShiftX = stats.Known(bow*math.Sin(3*u)+3/math.Sqrt2*rng.NormFloat64(), 0.02, 50)
					al[i].ShiftY = stats.Known(bow*u*u+3/math.Sqrt2*rng.NormFloat64(), 0.02, 50)
					al[i].RotationDeg = stats.Known(0, 0.002, 50)
				}
				if d := MotionOf(al, times).Dither; !(math.Abs(d.V-3) <= 3*d.Err) {
					t.Errorf("seed %d, path bowed by %v px, timed %v: dither %v, want 3", seed, bow, timed, d)
				}
			}
		}
	}
}
