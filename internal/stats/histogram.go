package stats

import "math"

// Histogram counts whole numbers exactly: Counts[i] is how often Min+i came
// up. Moments, clipping and quantiles taken from it are those of the values
// themselves, at a cost that does not depend on how many there were.
type Histogram struct {
	Min    int
	Counts []uint64
}

// NewHistogram is an empty histogram of the whole numbers from lo to hi, both included.
func NewHistogram(lo, hi int) *Histogram {
	return &Histogram{Min: lo, Counts: make([]uint64, hi-lo+1)}
}

// HistogramOf counts the samples of x.
func HistogramOf(x []uint16) *Histogram {
	h := NewHistogram(0, math.MaxUint16)
	for _, v := range x {
		h.Counts[v]++
	}
	return h
}

// Add counts v once more; a value outside the range counts at its nearer end.
func (h *Histogram) Add(v int) {
	h.Counts[min(max(v-h.Min, 0), len(h.Counts)-1)]++
}

// Merge adds the counts of another histogram over the same range.
func (h *Histogram) Merge(o *Histogram) {
	for i, c := range o.Counts {
		h.Counts[i] += c
	}
}

// N is how many values were counted.
func (h *Histogram) N() uint64 {
	var n uint64
	for _, c := range h.Counts {
		n += c
	}
	return n
}

// Trim is the histogram cut down to the range that holds any counts; one empty
// bin when it holds none.
func (h *Histogram) Trim() *Histogram {
	lo, hi := 0, len(h.Counts)-1
	for lo < hi && h.Counts[lo] == 0 {
		lo++
	}
	for hi > lo && h.Counts[hi] == 0 {
		hi--
	}
	counts := make([]uint64, hi-lo+1)
	copy(counts, h.Counts[lo:])
	return &Histogram{Min: h.Min + lo, Counts: counts}
}

// Moments are number, mean and population standard deviation of the values
// from lo to hi, both included.
func (h *Histogram) Moments(lo, hi int) (n uint64, mean, sd float64) {
	i0, i1 := max(lo-h.Min, 0), min(hi-h.Min, len(h.Counts)-1)
	if i1 < i0 {
		return 0, math.NaN(), math.NaN()
	}
	// Deviations are taken from the middle of the range, so that squares of
	// large levels do not swamp a narrow spread.
	mid := (i0 + i1) / 2
	var s1, s2 float64
	for i := i0; i <= i1; i++ {
		if c := h.Counts[i]; c != 0 {
			d := float64(i - mid)
			n += c
			s1 += d * float64(c)
			s2 += d * d * float64(c)
		}
	}
	if n == 0 {
		return 0, math.NaN(), math.NaN()
	}
	m := s1 / float64(n)
	return n, float64(h.Min+mid) + m, math.Sqrt(max(s2/float64(n)-m*m, 0))
}

// Quantile is the value below which a fraction p of the counts lies, each
// whole number v taken as spread evenly over [v-1/2, v+1/2]: the quantile of
// grouped data, finer than the numbers themselves. NaN when nothing was counted.
func (h *Histogram) Quantile(p float64) float64 {
	n := h.N()
	if n == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	want := p * float64(n)
	var below float64
	for i, c := range h.Counts {
		if c != 0 && below+float64(c) >= want {
			return float64(h.Min+i) - 0.5 + (want-below)/float64(c)
		}
		below += float64(c)
	}
	return float64(h.Min + len(h.Counts) - 1)
}

// MidQuantile is the quantile by the mid-distribution function, P(X < v) +
// P(X = v)/2 at every value that came up and straight in between (Ma, Genton &
// Parzen 2011, Ann. Inst. Stat. Math. 63, 227): that of values on a lattice much
// coarser than the whole numbers, as the variances of a few quantised samples
// are. gap is the distance of the two values that p lies between, 0 beyond the
// outer ones. NaN when nothing was counted.
func (h *Histogram) MidQuantile(p float64) (v, gap float64) {
	n := float64(h.N())
	if n == 0 || !(p >= 0 && p <= 1) {
		return math.NaN(), math.NaN()
	}
	last, lastMid, below := math.NaN(), math.NaN(), 0.0
	for i, c := range h.Counts {
		if c == 0 {
			continue
		}
		at, mid := float64(h.Min+i), (below+float64(c)/2)/n
		switch {
		case mid < p:
			last, lastMid, below = at, mid, below+float64(c)
		case math.IsNaN(last):
			return at, 0
		default:
			gap = at - last
			return last + gap*(p-lastMid)/(mid-lastMid), gap
		}
	}
	return last, 0
}

// SigmaClip drops values further than k standard deviations from the mean,
// again and again until nothing more falls, and corrects SD for what a
// Gaussian loses that way. It starts from the quartiles, so that outliers,
// however far, cannot widen the first cut. Values one step of the samples off the
// median are never dropped: where most are equal, they are all the noise there is.
func (h *Histogram) SigmaClip(k float64) Clipped {
	if h.N() == 0 {
		return Clipped{Mean: math.NaN(), Median: math.NaN(), SD: math.NaN()}
	}
	median := h.Quantile(0.5)
	step := 1.5 * float64(h.stepAt(int(math.Round(median))))
	// Quartiles span 1.349 sigma of a Gaussian.
	mean, sd := median, (h.Quantile(0.75)-h.Quantile(0.25))/1.3489795003921634
	var n uint64
	for range 100 {
		was := n
		from, to := min(mean-k*sd, median-step), max(mean+k*sd, median+step)
		n, mean, sd = h.Moments(int(math.Ceil(from)), int(math.Floor(to)))
		if n == was || n == 0 {
			break
		}
	}
	return Clipped{Mean: mean, Median: median, SD: sd / ClippedShare(k), N: int(n)}
}

// stepAt is how far the nearest value lies from one, of those that one in a
// hundred thousand has: a saturated sample may lie off the others' grid.
func (h *Histogram) stepAt(value int) int {
	least := max(1, h.N()/100_000)
	at := value - h.Min
	for d := 1; at-d >= 0 || at+d < len(h.Counts); d++ {
		for _, i := range [2]int{at - d, at + d} {
			if i >= 0 && i < len(h.Counts) && h.Counts[i] >= least {
				return d
			}
		}
	}
	return 1
}

// ClippedShare is the share of a Gaussian's standard deviation that remains
// when values beyond k of the remaining standard deviations have been dropped
// until none falls: the solution of f² = 1 - 2a phi(a)/(2 Phi(a) - 1) with a = k f
// (the variance of a truncated normal). 0.984846 for k = 3. For k under 1.8
// clipping never comes to rest, and it is NaN.
func ClippedShare(k float64) float64 {
	if k < 1.8 {
		return math.NaN()
	}
	f := 1.0
	for range 200 {
		a := k * f
		phi := math.Exp(-a*a/2) / math.Sqrt(2*math.Pi)
		f = math.Sqrt(1 - 2*a*phi/math.Erf(a/math.Sqrt2))
	}
	return f
}

// Step is the greatest common divisor of the differences between the values
// that occur: 16 for 12-bit samples scaled to 16 bits, 4 for 14-bit ones. The
// highest value is left out, because saturation may sit off the grid. It is 0
// when fewer than two values remain.
func (h *Histogram) Step() int {
	top := len(h.Counts) - 1
	for top >= 0 && h.Counts[top] == 0 {
		top--
	}
	step, last := 0, -1
	for i := range max(top, 0) {
		if h.Counts[i] == 0 {
			continue
		}
		if last >= 0 {
			step = gcd(step, i-last)
		}
		last = i
	}
	return step
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
