package registration

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/stats"
)

// dithering is a night of which the motion is known.
type dithering struct {
	every, subs     int
	size, vx, vy    float64 // px rms of two coordinates (of the steps over the root of two, in a walk), px/h
	bow             float64 // px between the middle of the path and a straight one
	walk, flip, gap bool
	untimed         bool // a third of the subs do not tell their time
}

func (d dithering) take(rng *rand.Rand) Motion {
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	al, times := make([]Alignment, d.subs), make([]time.Time, d.subs)
	var ox, oy float64
	for i := range al {
		at := time.Duration(i) * 4 * time.Minute
		if d.gap && i >= d.subs/2 {
			at += 45 * time.Minute
		}
		if !d.untimed || rng.IntN(3) > 0 {
			times[i] = start.Add(at)
		}
		if i%d.every == 0 {
			s := d.size / math.Sqrt2
			if d.walk {
				ox, oy = ox+s*math.Sqrt2*rng.NormFloat64(), oy+s*math.Sqrt2*rng.NormFloat64()
			} else {
				ox, oy = s*rng.NormFloat64(), s*rng.NormFloat64()
			}
		}
		u := 2*float64(i)/float64(d.subs) - 1
		x, y := d.vx*at.Hours()+ox+0.15*rng.NormFloat64()+d.bow*u*u, d.vy*at.Hours()+oy+0.15*rng.NormFloat64()
		if al[i].Flipped = d.flip && i > d.subs*3/5; al[i].Flipped {
			x, y = 40-x, -25-y
		}
		al[i].ShiftX, al[i].ShiftY, al[i].RotationDeg = stats.Known(x, 0.05, 50), stats.Known(y, 0.05, 50), stats.Known(0, 0.002, 50)
	}
	return MotionOf(al, times)
}

// Drift and dither come back within their errors, however seldom one dithers and whether
// dithers are about a centre or add up; no dither is called a jump.
func TestSeldomDithers(t *testing.T) {
	for _, every := range []int{1, 2, 3, 5} {
		for _, size := range []float64{2, 6, 20} {
			for _, speed := range []float64{0, 5, 40} {
				for kind := range 7 {
					d := dithering{every: every, subs: 60, size: size, vx: 0.8 * speed, vy: -0.6 * speed,
						walk: kind == 1 || kind == 5, flip: kind == 2 || kind == 5, gap: kind == 3, untimed: kind == 6}
					if kind == 4 {
						d.bow = 4
					}
					checkDithering(t, d)
				}
			}
		}
	}
}

func checkDithering(t *testing.T, d dithering) {
	t.Helper()
	const nights = 30
	size := d.size
	if d.walk { // the line between neighbours leaves a third of a step's variance, not half
		size *= math.Sqrt(2. / 3)
	}
	var drift, dither float64
	jumps := 0
	speed := math.Hypot(d.vx, d.vy)
	for seed := range uint64(nights) {
		m := d.take(rand.New(rand.NewPCG(seed, 21)))
		z := (m.Drift.V - speed) / m.Drift.Err
		drift += z * z / nights
		z = (m.Dither.V - size) / m.Dither.Err
		dither += z * z / nights
		jumps += len(m.Jumps)
	}
	drift, dither = math.Sqrt(drift), math.Sqrt(dither)
	// Thirty nights leave 0.13 of an rms of 1. A speed of none is as large as both of its
	// coordinates' errors: 1.4. What small dithers pass for rests, and the few numbers behind
	// an error, are the rest of the way to twice the error stated.
	if limit := 2.0; drift > limit && speed > 0 || drift > limit*math.Sqrt2 || dither > limit {
		t.Errorf("%+v: drift off by %.2f errors, dither by %.2f", d, drift, dither)
	}
	// 40 px/h over 49 minutes are more than six dithers of 2 px.
	if jumps > 0 && !d.gap {
		t.Errorf("%+v: %d jumps", d, jumps)
	}
}

// A night that nods between two places drifts nowhere, although half its steps are alike.
func TestNodding(t *testing.T) {
	start := time.Date(2025, 3, 1, 21, 0, 0, 0, time.UTC)
	al, times := make([]Alignment, 30), make([]time.Time, 30)
	for i := range al {
		times[i] = start.Add(time.Duration(i) * 5 * time.Minute)
		al[i].ShiftX, al[i].ShiftY, al[i].RotationDeg = stats.Known(8*float64(i%2), 0.02, 50), stats.Known(0, 0.02, 50), stats.Known(0, 0.002, 50)
	}
	if m := MotionOf(al, times); m.Drift.V > 2*m.Drift.Err || len(m.Jumps) > 0 {
		t.Errorf("drift %v, jumps %v", m.Drift, m.Jumps)
	}
}
