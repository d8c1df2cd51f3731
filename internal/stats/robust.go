package stats

import (
	"math"
	"slices"
)

// MADToSigma turns a median absolute deviation into the standard deviation of
// a Gaussian: 1/Phi^-1(3/4).
const MADToSigma = 1.482602218505602

// MedianErr is the standard error of the median of normal values over that of their mean,
// of many: sqrt(π/2).
const MedianErr = 1.2533141373155001

// Float is what pixels and figures are made of.
type Float interface{ ~float32 | ~float64 }

// Median is the middle value of x, the mean of the middle two when their
// number is even, NaN for no values. NaN must not occur in x.
func Median[T Float](x []T) float64 { return MedianInPlace(slices.Clone(x)) }

// MedianInPlace is Median without the copy: it reorders x.
func MedianInPlace[T Float](x []T) float64 {
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	if n%2 == 1 {
		mid, _ := twoFrom(x, n/2)
		return float64(mid)
	}
	lo, hi := twoFrom(x, n/2-1)
	return float64(lo) + (float64(hi)-float64(lo))/2
}

// Quantile is the value below which a fraction p in [0,1] of x lies, by linear
// interpolation between order statistics (type 7 of Hyndman and Fan 1996).
func Quantile[T Float](x []T, p float64) float64 { return quantileInPlace(slices.Clone(x), p) }

// quantileInPlace is Quantile without the copy: it reorders x.
func quantileInPlace[T Float](x []T, p float64) float64 {
	n := len(x)
	if n == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	pos := p * float64(n-1)
	k := int(pos)
	lo, hi := twoFrom(x, k)
	if pos == float64(k) {
		return float64(lo)
	}
	return float64(lo) + (pos-float64(k))*(float64(hi)-float64(lo))
}

// mad is the median absolute deviation from the median, not scaled.
func mad[T Float](x []T) float64 {
	m := Median(x)
	d := make([]T, len(x))
	for i, v := range x {
		d[i] = T(math.Abs(float64(v) - m))
	}
	return MedianInPlace(d)
}

// MADSigma is 1.4826 MAD: the standard deviation of a Gaussian with that MAD.
// On few values it is low (Monte Carlo: 0.92 of the truth for 10 values), and
// on coarsely quantised values it can be zero.
func MADSigma[T Float](x []T) float64 { return MADToSigma * mad(x) }

// Mean is the arithmetic mean, NaN for no values.
func Mean[T Float](x []T) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	return sum / float64(len(x))
}

// Variance is the population variance (divided by n), NaN for no values.
func Variance[T Float](x []T) float64 {
	m := Mean(x)
	var sum float64
	for _, v := range x {
		d := float64(v) - m
		sum += d * d
	}
	return sum / float64(len(x))
}

// Clipped is what SigmaClip leaves.
type Clipped struct {
	Mean, Median, SD float64 // SD: population
	N                int
}

// SigmaClip drops values further than k standard deviations from the median,
// again and again until nothing more falls or maxIter passes are done. A
// Gaussian's SD comes out low by what its tails held: 0.9848 of the truth for
// k = 3 when converged.
func SigmaClip[T Float](x []T, k float64, maxIter int) Clipped {
	kept := sorted(x)
	c := clippedOf(kept)
	for range maxIter {
		far := func(v T) bool { return math.Abs(float64(v)-c.Median) > k*c.SD }
		for len(kept) > 0 && far(kept[0]) {
			kept = kept[1:]
		}
		for len(kept) > 0 && far(kept[len(kept)-1]) {
			kept = kept[:len(kept)-1]
		}
		if len(kept) == c.N {
			break
		}
		c = clippedOf(kept)
	}
	return c
}

// clippedOf are the figures of sorted values.
func clippedOf[T Float](x []T) Clipped {
	n := len(x)
	if n == 0 {
		return Clipped{math.NaN(), math.NaN(), math.NaN(), 0}
	}
	median := float64(x[(n-1)/2]) + (float64(x[n/2])-float64(x[(n-1)/2]))/2
	sum, sum2 := sumsFrom(x, median)
	shift := sum / float64(n)
	return Clipped{median + shift, median, math.Sqrt(max(0, sum2/float64(n)-shift*shift)), n}
}

func sorted[T Float](x []T) []T {
	out := slices.Clone(x)
	if few, ok := any(out).([]float32); ok {
		radixSort(few, make([]float32, len(few)))
	} else {
		slices.Sort(out)
	}
	return out
}

// twoFrom are the k-th smallest value (from 0) of x and the next one, the same where
// there is none. It reorders x.
func twoFrom[T Float](x []T, k int) (kth, next T) {
	if len(x) >= manyValues {
		x, k = enclose(x, k)
	}
	kth = SelectKth(x, k)
	if k+1 == len(x) {
		return kth, kth
	}
	return kth, slices.Min(x[k+1:])
}

// Of manyValues and more, one in sampleStep is looked at beforehand.
const (
	manyValues = 8192
	sampleStep = 32
)

// enclose gives the few values of x among which the k-th smallest and the next one
// are, and which of them the k-th is there: two values of a sample lie to both sides
// of it almost surely (Floyd and Rivest 1975, Communications of the ACM 18, 165), and
// one pass without a branch gathers what is between. Where they do not, it gives all
// of x.
func enclose[T Float](x []T, k int) ([]T, int) {
	sample := make([]T, 0, len(x)/sampleStep+1)
	for i := sampleStep / 2; i < len(x); i += sampleStep {
		sample = append(sample, x[i])
	}
	last := len(sample) - 1
	rank := float64(k) / float64(len(x)) * float64(last)
	reach := 2*math.Sqrt(float64(last)) + 2 // four sigma of a rank in the middle
	from := SelectKth(sample, max(0, int(rank-reach)))
	to := SelectKth(sample, min(last, int(rank+reach)))
	under, between := 0, 0
	for i, v := range x {
		x[i], x[between] = x[between], v
		var less, most int
		if v < from {
			less = 1
		}
		if v <= to {
			most = 1
		}
		under += less
		between += most - less
	}
	if k < under || k+1 >= under+between {
		return x, k
	}
	return x[:between], k - under
}

// SelectKth puts the k-th smallest value (from 0) of x in its place, smaller or
// equal ones before it and larger or equal ones after, and returns it (Hoare
// 1961, Communications of the ACM 4, 321). Middle-of-three pivots keep sorted
// input fast; a depth limit falls back to sorting, so that no order of values
// makes it quadratic.
func SelectKth[T Float](x []T, k int) T {
	lo, hi := 0, len(x)-1
	for depth := 0; hi > lo; depth++ {
		if depth > 64 {
			slices.Sort(x[lo : hi+1])
			break
		}
		mid := lo + (hi-lo)/2
		if x[mid] < x[lo] {
			x[mid], x[lo] = x[lo], x[mid]
		}
		if x[hi] < x[lo] {
			x[hi], x[lo] = x[lo], x[hi]
		}
		if x[hi] < x[mid] {
			x[hi], x[mid] = x[mid], x[hi]
		}
		pivot := x[mid]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for pivot < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}
