package worth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

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
			if !(math.Abs(v) <= standsOut*stack) {
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

// meet is a camera whose hot pixels meet in a stack, e- of a sub.
type meet struct {
	sky, read, dark, pattern float64
	faintest, span           float64 // hot pixels follow a 1/charge law from faintest to span times that
	full                     float64 // where they saturate
}

func (m meet) charge(quantile float64) float64 { return m.faintest * math.Pow(m.span, quantile) }

// left is the share of pixels of the stack on which hot pixels fall in so many of n subs that
// stand out by more than limit after rejection by deviation, and its error.
func (m meet) left(r *rand.Rand, n, hot int, limit float64) (share, err float64) {
	const tried = 6000
	v := make([]float64, n)
	for range tried {
		for k := range v {
			v[k] = 0
			if k < hot {
				v[k] = m.charge(r.Float64())
			}
			variance := v[k] + m.sky + m.dark + m.read*m.read + m.pattern*m.pattern
			v[k] = min(v[k]+math.Sqrt(variance)*r.NormFloat64(), m.full)
		}
		if !(math.Abs(byDeviation(v)) <= limit) {
			share += 1. / tried
		}
	}
	return share, math.Sqrt(share / tried)
}

// Of 17 subs or more that lie all apart only hot pixels that meet are left by rejection by
// deviation: one alone lies (n-1)/√n = 3.9 deviations off. Their number is that of stacks drawn for each number that meets, weighed by the chance of
// it, however rare they are.
func TestHotPixelsThatMeet(t *testing.T) {
	if testing.Short() {
		t.Skip("eighteen stacks, each drawn pixel by pixel; TestHotPixelsLeftAgainstDraws draws others")
	}
	never := math.Inf(1)
	for i, m := range []meet{
		{150, 1.5, 0.6, 0.1, 15, 1000, never}, {15, 1.5, 3, 0.9, 15, 1000, 16000}, {90, 1.8, 3, 0.3, 15, 1000, never},
		{240, 8, 180, 40, 2400, 1000, 77000}, {2, 2, 1, 1, 10, 100, never}, {1000, 3, 10, 3, 50, 3000, 50000},
	} {
		for _, n := range []int{17, 18, 20} {
			r := rand.New(rand.NewPCG(uint64(n), uint64(i)))
			s := figures{sky: m.sky, read: m.read, dark: m.dark, pattern: m.pattern, full: m.full, pixels: 1e8}
			limit := standsOut * s.budget(ByBias, plentyBias, 1, scattered(n)).Total
			var shares, errs [5]float64 // by how many meet; more hardly ever do
			for hot := 2; hot < len(shares); hot++ {
				shares[hot], errs[hot] = m.left(r, n, hot, limit)
			}
			for _, hotShare := range []float64{0.0001, 0.001, 0.01} {
				const classes = 150
				s.hot, s.chances = nil, chances{}
				for k := range classes {
					s.hot = append(s.hot, rate{m.charge((float64(k) + 0.5) / classes), hotShare * s.pixels / classes})
				}
				s.hot = classed(s.hot, saturatedFrom*s.full)
				got := s.counted(ByBias, plentyBias, 1, scattered(n)).HotScatter
				want, variance := 0.0, 0.0
				for hot, share := range shares {
					all := s.pixels * distuv.Binomial{N: float64(n), P: hotShare}.Prob(float64(hot))
					want, variance = want+all*share, variance+math.Pow(all*errs[hot], 2)
				}
				t.Logf("camera %d, %d subs, %g hot: %.1f ± %.1f left, predicted %.1f (%.2f)", i, n, hotShare, want, math.Sqrt(variance), got, got/want)
				// Classes 5 % wide blur which pairs are alike, and three in a hundred stay of the
				// thousand pairs that the model draws of 20 subs: a tenth for both.
				if !(math.Abs(got-want) <= 0.1*want+2*math.Sqrt(variance)) {
					t.Errorf("camera %d, %d subs, %g hot: %.1f ± %.1f left, predicted %.1f", i, n, hotShare, want, math.Sqrt(variance), got)
				}
			}
		}
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
