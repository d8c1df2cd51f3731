package stack

import (
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// Levels of series as they are drawn: of one kind that hops, drifts, wanders or has odd
// frames, and of two kinds. Means of frames of 10⁵ pixels are known to some hundredths
// of an ADU of noise 4.
func TestTwoKindsOfFrames(t *testing.T) {
	const noise = 4.0
	rng := rand.New(rand.NewPCG(4, 9))
	around := func(n int, level, wander float64) []float64 {
		l := make([]float64, n)
		for i := range l {
			l[i] = level + wander*rng.NormFloat64()
		}
		return l
	}
	drift := func(n int, by float64) []float64 {
		l := around(n, 500, 0.05)
		for i := range l {
			l[i] += by * float64(i)
		}
		return l
	}
	both := func(a, b []float64) []float64 { return append(a, b...) }
	for _, c := range []struct {
		what   string
		levels []float64
		two    bool
	}{
		{"offsets 200 ADU apart", both(around(10, 500, 0.05), around(10, 300, 0.05)), true},
		{"darks 8 °C apart", both(around(8, 540, 0.3), around(6, 580, 1)), true},
		{"two and two", both(around(2, 540, 0.1), around(2, 600, 0.1)), true},
		{"quarter of them", both(around(9, 500, 0.05), around(3, 540, 0.05)), true},
		{"one kind", around(20, 500, 0.05), false},
		{"an offset that wanders by three noises", around(20, 500, 3*noise), false},
		{"an offset that hops by two noises", both(around(10, 500, 0.05), around(10, 500+2*noise, 0.05)), false},
		{"a drift over twenty noises", drift(20, noise), false},
		{"one odd frame", both(around(10, 500, 0.05), around(1, 900, 0.05)), false},
		{"two odd frames of fourteen", both(around(12, 500, 0.05), around(2, 900, 0.05)), false},
		{"three frames", both(around(2, 500, 0.05), around(1, 900, 0.05)), false},
	} {
		r := &Series{Noise: stats.Known(noise, 0.01, len(c.levels))}
		for _, i := range rng.Perm(len(c.levels)) {
			r.Levels = append(r.Levels, FrameLevel{Level: c.levels[i]})
		}
		if why := r.TwoKinds(); (why.Code != "") != c.two {
			t.Errorf("%s: told %v", c.what, why)
		}
	}
}
