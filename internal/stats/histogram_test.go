package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// near tells whether got is within tol of want.
func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }

func TestHistogramMoments(t *testing.T) {
	h := HistogramOf([]uint16{1, 2, 3, 4, 5, 6, 7, 8, 9, 100})
	// Values of astropy.stats 5.2.1 for the same array: mean, sd(0).
	if n, mean, sd := h.Moments(0, 65535); n != 10 || mean != 14.5 || !near(sd, 28.605069480775605, 1e-12) {
		t.Errorf("moments %d %v %v", n, mean, sd)
	}
	// Clipped at 3 sigma, converged: 5, 2.581988897471611 of 9 values, here
	// corrected for the clipping of a Gaussian.
	c := h.SigmaClip(3)
	if c.N != 9 || !near(c.Mean, 5, 1e-12) || !near(c.SD*ClippedShare(3), 2.581988897471611, 1e-12) {
		t.Errorf("clipped %+v", c)
	}
}

func TestHistogramEmptyAndConstant(t *testing.T) {
	if c := NewHistogram(0, 9).SigmaClip(5); c.N != 0 || !math.IsNaN(c.Mean) {
		t.Errorf("empty: %+v", c)
	}
	if c := HistogramOf([]uint16{7, 7, 7}).SigmaClip(5); c.N != 3 || c.Mean != 7 || c.SD != 0 {
		t.Errorf("constant: %+v", c)
	}
	if q := NewHistogram(0, 9).Quantile(0.5); !math.IsNaN(q) {
		t.Errorf("median of nothing: %v", q)
	}
}

// Worked by hand: of 1, 1, 5, 9 the mid-distribution is 1/4 at 1, 5/8 at 5, 7/8 at 9.
func TestMidQuantile(t *testing.T) {
	h := HistogramOf([]uint16{1, 1, 5, 9})
	for _, test := range []struct{ p, v, gap float64 }{{0, 1, 0}, {0.25, 1, 0}, {0.4375, 3, 4}, {0.625, 5, 4}, {0.75, 7, 4}, {1, 9, 0}} {
		if v, gap := h.MidQuantile(test.p); !near(v, test.v, 1e-12) || gap != test.gap {
			t.Errorf("quantile %g: %v, gap %v; want %v, %v", test.p, v, gap, test.v, test.gap)
		}
	}
	for _, h := range []*Histogram{NewHistogram(0, 9), HistogramOf([]uint16{3})} {
		if v, _ := h.MidQuantile(0.5); h.N() == 0 && !math.IsNaN(v) || h.N() == 1 && v != 3 {
			t.Errorf("of %d: %v", h.N(), v)
		}
	}
}

// Truncated-normal values computed with scipy: converged sd at c sigma.
func TestClippedShare(t *testing.T) {
	for k, want := range map[float64]float64{2: .725741, 2.5: .936557, 3: .984846, 4: .999460, 5: .9999926} {
		if got := ClippedShare(k); !near(got, want, 1e-6) { // the table has six digits, seven at 5
			t.Errorf("k=%g: %.7f, want %.7f", k, got, want)
		}
	}
	if !math.IsNaN(ClippedShare(1)) {
		t.Error("k=1 converges?")
	}
}

func TestHistogramClipMatchesSlowClip(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	h := NewHistogram(-65535, 65535)
	var x []float64
	for i := range 200_000 {
		v := math.Round(rng.NormFloat64() * 9.8)
		if i%1000 == 0 {
			v += 5000 // particle hits
		}
		x = append(x, v)
		h.Add(int(v))
	}
	slow, fast := SigmaClip(x, 5, 100), h.SigmaClip(5)
	// The two start differently and may end one whole number apart at the cut.
	if !near(fast.SD*ClippedShare(5), slow.SD, 1e-3) || !near(fast.Mean, slow.Mean, 1e-3) {
		t.Errorf("fast %+v, slow %+v", fast, slow)
	}
}

// A spread of s recovers as sqrt(s² + 1/12) from rounded values (Sheppard); the
// grouped quantile finds the median far below the step.
func TestHistogramQuantisedNormal(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	h := NewHistogram(0, 65535)
	for range 1_000_000 {
		h.Add(int(math.Round(1000.3 + 1.5*rng.NormFloat64())))
	}
	c := h.SigmaClip(5)
	// Sampling error of a sd from 1e6 values is 0.07 %, of a mean 0.0015, of a median 0.0019.
	if want := math.Sqrt(1.5*1.5 + 1.0/12); !near(c.SD, want, 4*0.0007*want) {
		t.Errorf("sd %v, want %v", c.SD, want)
	}
	if !near(c.Mean, 1000.3, 0.006) || !near(c.Median, 1000.3, 0.01) {
		t.Errorf("mean %v, median %v", c.Mean, c.Median)
	}
}

func TestHistogramTrim(t *testing.T) {
	h := NewHistogram(-5, 5)
	h.Add(-2)
	h.Add(3)
	if got := h.Trim(); got.Min != -2 || !slices.Equal(got.Counts, []uint64{1, 0, 0, 0, 0, 1}) {
		t.Errorf("%+v", got)
	}
}

func TestHistogramStep(t *testing.T) {
	for _, c := range []struct {
		x    []uint16
		want int
	}{
		{[]uint16{4000, 4016, 4032, 65520}, 16}, // 12 bits scaled to 16
		{[]uint16{4000, 4004, 65532}, 4},        // 14 bits
		{[]uint16{4000, 4016, 4032, 65535}, 16}, // saturation off the grid
		{[]uint16{4001, 4002, 4017, 65535}, 1},
		{[]uint16{7, 7}, 0},
		{nil, 0},
	} {
		if got := HistogramOf(c.x).Step(); got != c.want {
			t.Errorf("%v: step %d, want %d", c.x, got, c.want)
		}
	}
}
