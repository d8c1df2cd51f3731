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

// stays is the chance that a pixel of the stack on which a defect falls in so
// many of n subs stands out: sub is the noise of one sub, stack that of the
// stack, e-.
func (d defect) stays(by Rejection, n, subs int, sub, stack float64) float64 {
	switch {
	case by == PlainMean || subs == n || n < 3:
		return d.meanStays(n, subs, stack)
	case by == ByNoise:
		return d.noiseStays(n, subs, sub, stack)
	}
	return d.scatterStays(n, subs, sub, stack)
}

// meanStays: nothing is rejected.
func (d defect) meanStays(n, subs int, stack float64) float64 {
	part := float64(subs) / float64(n)
	s := math.Sqrt(stack*stack + part*part*d.shared + part*d.own/float64(n))
	return beyond(standsOut*stack, part*d.excess, s)
}

// noiseStays: what lies under the limit stays, and adds up where subs meet.
func (d defect) noiseStays(n, subs int, sub, stack float64) float64 {
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
// and several that meet hide each other. Values of the defect are drawn, the
// others stand by their sum of squares; what lies beyond the limit falls, again
// and again.
func (d defect) scatterStays(n, subs int, sub, stack float64) float64 {
	shared, own := math.Sqrt(d.shared), math.Sqrt(d.own+sub*sub)
	y := make([]float64, subs)
	left := 0.0
	draws := drawn(n, subs)
	for _, w := range draws {
		for i := range y {
			y[i] = d.excess + shared*w.shared + own*w.own[i]
		}
		left += beyond(standsOut*stack, clipped(y, n-subs, sub*sub*w.scatter), stack)
	}
	return left / float64(len(draws))
}

// clipped is the mean of outliers y among others of mean zero and so much
// variance after rejection beyond the limit.
func clipped(y []float64, others int, variance float64) float64 {
	kept := append([]float64(nil), y...)
	for len(kept) > 0 {
		n := float64(others + len(kept))
		sum, squares := 0.0, variance*float64(others-1)
		for _, v := range kept {
			sum, squares = sum+v, squares+v*v
		}
		mean := sum / n
		limit := byScatter * math.Sqrt(max(squares-n*mean*mean, 0)/(n-1))
		before := len(kept)
		kept = slices.DeleteFunc(kept, func(v float64) bool { return math.Abs(v-mean) > limit })
		if len(kept) == before {
			return mean
		}
	}
	return 0
}

// draw is chance: normal deviates of a defect's values, and the variance of the
// others over the true one.
type draw struct {
	shared  float64
	own     []float64
	scatter float64
}

// drawsOf is how many times chance is tried: the mean of so many is known to a
// few percent, and classes of rates average it further.
const drawsOf = 96

// drawn is the same chance for every defect that falls on so many of n subs, so
// that more darks or a brighter pixel cannot seem worse by luck.
func drawn(n, subs int) []draw {
	r := rand.New(rand.NewPCG(uint64(n), uint64(subs)))
	others := float64(max(n-subs-1, 1))
	spread := distuv.ChiSquared{K: others, Src: r}
	draws := make([]draw, drawsOf)
	for k := range draws {
		own := make([]float64, subs)
		for i := range own {
			own[i] = r.NormFloat64()
		}
		own[0] = distuv.UnitNormal.Quantile((float64(k) + 0.5) / drawsOf) // evenly: one outlier is the usual case
		draws[k] = draw{r.NormFloat64(), own, spread.Rand() / others}
	}
	return draws
}

// beyond is the chance that a normal value lies further than limit from zero.
func beyond(limit, mean, sd float64) float64 {
	n := distuv.UnitNormal
	return n.Survival((limit-mean)/sd) + n.Survival((limit+mean)/sd)
}
