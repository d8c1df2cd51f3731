package worth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// hotStack are hot pixels of a sensor in the stack of n subs, each of which falls on a
// pixel of the stack in so many subs.
type hotStack struct {
	n, subs  int
	sky      float64 // e- of a sub
	read     float64 // e-
	by       Correction
	frames   int
	faintest float64 // e- of a sub; others follow a 1/charge law up to 300 times that
}

func (h hotStack) sensor() figures {
	return figures{sky: h.sky, read: h.read, dark: 0.5, full: math.Inf(1), pixels: 1e12, chances: chances{}}
}

// layout in which the hot pixel's subs share a pixel and the others none.
func (h hotStack) layout() layout {
	if h.subs == h.n {
		return still(h.n)
	}
	return layout{h.n, 1 / float64(h.n), []meeting{{h.subs, 1}}}
}

// left is how many of so many are left by each rejection, frame by frame.
func (h hotStack) left(r *rand.Rand, charges []float64) (left [3]float64) {
	s, l := h.sensor(), h.layout()
	stack := s.budget(h.by, h.frames, 1, l).Total
	sub := math.Sqrt(s.sky + s.dark + s.read*s.read)
	masterNoise := math.Hypot(h.read, map[Correction]float64{ByDarks: math.Sqrt(s.dark)}[h.by]) / math.Sqrt(float64(h.frames))
	values := make([]float64, h.n)
	for _, charge := range charges {
		shared := masterNoise * r.NormFloat64()
		hot, excess := shared, charge
		if h.by == ByDarks {
			hot, excess = math.Sqrt(charge/float64(h.frames)+masterNoise*masterNoise)*r.NormFloat64(), 0
		}
		for k := range values {
			if k < h.subs {
				values[k] = excess + hot + math.Sqrt(charge+sub*sub)*r.NormFloat64()
			} else {
				values[k] = masterNoise*r.NormFloat64() + sub*r.NormFloat64()
			}
		}
		for by, v := range [3]float64{stats.Mean(values), byDeviation(values), byKnown(values, sub)} {
			if math.Abs(v) > standsOut*stack {
				left[by]++
			}
		}
	}
	return left
}

// The hot pixels left by every rejection are those that stacks of the same sensor
// have, whatever took off the dark signal and however many subs met.
func TestHotPixelsLeftAgainstDraws(t *testing.T) {
	const tried = 20000
	for _, h := range []hotStack{
		{14, 1, 12, 2.2, ByDarks, 5, 20}, {14, 2, 12, 2.2, ByDarks, 5, 20}, {14, 2, 12, 2.2, ByDarks, 20, 20}, {14, 14, 12, 2.2, ByDarks, 5, 20},
		{8, 1, 12, 2.2, ByDarks, 10, 20}, {10, 1, 200, 3, ByBias, 20, 20}, {10, 2, 200, 3, ByDarks, 5, 100}, {25, 2, 12, 2.2, ByDarks, 5, 100},
		{14, 1, 12, 2.2, ByBias, 20, 4}, {14, 2, 12, 2.2, ByBias, 20, 4}, {14, 14, 12, 2.2, ByBias, 20, 4}, {30, 1, 12, 2.2, ByBias, 20, 4},
		{30, 3, 12, 2.2, ByBias, 20, 4}, {12, 1, 100, 5, ByBias, 20, 20}, {12, 3, 100, 5, ByDarks, 30, 100}, {40, 5, 100, 1.5, ByDarks, 10, 100},
	} {
		t.Run(fmt.Sprintf("%d of %d, %s of %d", h.subs, h.n, h.by, h.frames), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(uint64(h.n), uint64(h.subs)))
			charges := make([]float64, tried)
			for i := range charges {
				charges[i] = h.faintest * math.Pow(300, r.Float64())
			}
			left := h.left(r, charges)
			s := h.sensor()
			for i := range 80 {
				s.hot = append(s.hot, rate{h.faintest * math.Pow(300, (float64(i)+0.5)/80), tried / 80})
			}
			c := s.counted(h.by, h.frames, 1, h.layout())
			for i, want := range []float64{c.HotMean, c.HotScatter, c.HotNoise} {
				t.Logf("%s: rejection %d: %.0f, predicted %.0f", t.Name()[30:], i, left[i], want)
				// Ten percent, and what chance makes of both counts.
				if math.Abs(left[i]-want) > 0.1*left[i]+2*math.Sqrt(max(left[i], want)) {
					t.Errorf("rejection %d: %.0f left, predicted %.1f", i, left[i], want)
				}
			}
		})
	}
}

// alone is one bright defect in one of n subs of unit noise.
func alone(n int) crowd {
	c := crowd{n: n, subs: 1, sub: 1, stack: 1 / math.Sqrt(float64(n)), defects: []defect{{excess: 1e6}}}
	if c.rejects() {
		c.draws = drawn(n, 1, 1, []float64{0})
	}
	return c
}
