package worth

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rejection is how outliers are left out of the stack.
type Rejection int

// The ways that hot pixels are counted for.
const (
	PlainMean Rejection = iota
	ByScatter           // beyond 3 standard deviations of the values themselves, again and again
	ByNoise             // beyond 5 times the known noise of one sub from the median
)

// standsOut is how many times the stack's noise a pixel is off to be seen.
// byScatter and byNoise are the limits of the two rejections.
const (
	standsOut = 5
	byScatter = 3.0
	byNoise   = 5.0
)

// defect is a hot pixel as the subs hold it after their correction, e-.
type defect struct {
	excess float64 // above the other pixels, the same in every sub
	shared float64 // variance of what is the same in every sub: its master's noise
	own    float64 // variance that each sub adds for itself beside its noise elsewhere: its shot noise
}

// crowd is what a pixel of the stack is like on which one pixel of the sensor falls
// in some of the subs.
type crowd struct {
	n, subs int     // all, and those in which it falls
	sub     float64 // e-, noise of one sub
	fixed   float64 // e-, what its pixels differ by for pattern and master
	stack   float64 // e-, noise of the stack
	draws   []draw
}

func newCrowd(n, subs int, sub, fixed, stack float64) crowd {
	c := crowd{n, subs, sub, fixed, stack, nil}
	if c.rejects() {
		c.draws = drawn(n, subs)
	}
	return c
}

// rejects is false where nothing can be told apart: all subs, or fewer than three.
func (c crowd) rejects() bool { return c.subs < c.n && c.n >= 3 }

// stays is the chance that such a pixel of the stack stands out for the defect.
func (d defect) stays(by Rejection, c crowd) float64 {
	switch {
	case by == PlainMean || !c.rejects():
		return d.meanStays(c.n, c.subs, c.stack)
	case by == ByNoise:
		return d.noiseStays(c)
	}
	return d.scatterStays(c)
}

// meanStays: nothing is rejected.
func (d defect) meanStays(n, subs int, stack float64) float64 {
	part := float64(subs) / float64(n)
	s := math.Sqrt(stack*stack + part*part*d.shared + part*d.own/float64(n))
	return beyond(standsOut*stack, part*d.excess, s)
}

// noiseStays: what lies under the limit stays, and adds up where subs meet.
func (d defect) noiseStays(c crowd) float64 {
	n, subs, sub, stack := c.n, c.subs, c.sub, c.stack
	if 2*subs > n { // the median is the defect's: the good values are rejected
		return d.meanStays(n, n, stack)
	}
	s := max(math.Sqrt(sub*sub+d.own+d.shared), 1e-6*sub)
	unit := distuv.UnitNormal
	lo, hi := (-byNoise*sub-d.excess)/s, (byNoise*sub-d.excess)/s
	kept := unit.CDF(hi) - unit.CDF(lo)
	if kept < 1e-12 {
		return 0
	}
	// Mean and variance of a normal cut at both ends.
	shift := (unit.Prob(lo) - unit.Prob(hi)) / kept
	mean := d.excess + s*shift
	variance := s * s * (1 + (lo*unit.Prob(lo)-hi*unit.Prob(hi))/kept - shift*shift)
	left := 0.0
	for k := 1; k <= subs; k++ {
		chance := distuv.Binomial{N: float64(subs), P: kept}.Prob(float64(k))
		part := float64(k) / float64(n)
		left += chance * beyond(standsOut*stack, part*mean, math.Sqrt(stack*stack+part/float64(n)*max(variance, 0)))
	}
	return left
}

// scatterStays: an outlier widens the very deviation that it is held against,
// and several that meet hide each other. All values are drawn; what lies beyond
// the limit falls, again and again. Noise of the others' mean is then put in whole.
func (d defect) scatterStays(c crowd) float64 {
	shared, own, others := math.Sqrt(d.shared+c.fixed*c.fixed), math.Sqrt(d.own+c.sub*c.sub), math.Hypot(c.sub, c.fixed)
	y := make([]float64, c.subs)
	left := 0.0
	for _, w := range c.draws {
		for i := range y {
			y[i] = (d.excess + shared*w.shared + own*w.own[i]) / others
		}
		if sum, outliers, rest := clipped(y, w.others); outliers > 0 {
			all := float64(outliers + rest)
			left += beyond(standsOut*c.stack, others*sum/all, max(others*math.Sqrt(float64(rest))/all, 1e-9*c.stack))
		}
	}
	return left / float64(len(c.draws))
}

// clipped is what rejection beyond the limit leaves of outliers y among others,
// which ascend: the sum and number of outliers, and the number of the others. y is
// reordered.
func clipped(y, others []float64) (sum float64, outliers, rest int) {
	var all, squares float64
	for _, v := range y {
		sum, squares = sum+v, squares+v*v
	}
	all = sum
	for _, v := range others {
		all, squares = all+v, squares+v*v
	}
	drop := func(v float64) { all, squares = all-v, squares-v*v }
	for {
		n := float64(len(y) + len(others))
		if n < 3 {
			return sum, len(y), len(others)
		}
		mean := all / n
		limit := byScatter * math.Sqrt(max(squares-n*mean*mean, 0)/(n-1))
		kept := y[:0]
		for _, v := range y {
			if math.Abs(v-mean) <= limit {
				kept = append(kept, v)
				continue
			}
			drop(v)
			sum -= v
		}
		y = kept
		for len(others) > 0 && others[0] < mean-limit {
			drop(others[0])
			others = others[1:]
		}
		for len(others) > 0 && others[len(others)-1] > mean+limit {
			drop(others[len(others)-1])
			others = others[:len(others)-1]
		}
		if float64(len(y)+len(others)) == n {
			return sum, len(y), len(others)
		}
	}
}

// draw is chance: normal deviates of a defect's values and of the others', which ascend.
type draw struct {
	shared      float64
	own, others []float64
}

// drawsOf is how many times chance is tried: the mean of so many is known to a
// few percent, and classes of rates average it further.
const drawsOf = 256

// drawn is the same chance for every defect that falls on so many of n subs, so
// that more darks or a brighter pixel cannot seem worse by luck.
func drawn(n, subs int) []draw {
	r := rand.New(rand.NewPCG(uint64(n), uint64(subs)))
	normal := func(k int) []float64 {
		v := make([]float64, k)
		for i := range v {
			v[i] = r.NormFloat64()
		}
		return v
	}
	draws := make([]draw, drawsOf)
	for k := range draws {
		w := draw{own: normal(subs), others: normal(n - subs)}
		slices.Sort(w.others)
		// Evenly spread, one against the other by the golden section.
		_, turn := math.Modf(float64(k) * math.Phi)
		w.own[0] = distuv.UnitNormal.Quantile((float64(k) + 0.5) / drawsOf)
		w.shared = distuv.UnitNormal.Quantile(min(max(turn, 0.5/drawsOf), 1-0.5/drawsOf))
		draws[k] = w
	}
	return draws
}

// beyond is the chance that a normal value lies further than limit from zero.
func beyond(limit, mean, sd float64) float64 {
	n := distuv.UnitNormal
	return n.Survival((limit-mean)/sd) + n.Survival((limit+mean)/sd)
}
