package stats

import (
	"math"
	"slices"
)

// clipped3 is the sd that is left of a unit normal after clipping at 3 sigma
// until nothing changes (computed as a fixed point of the truncated normal).
const clipped3 = 0.984846

// modeOfSorted estimates the level and the noise of sorted samples of which a
// minority are outliers, as Mesh describes: what is clipped lies at their ends, so
// that sums and medians follow from where the clipping stands. Quantised samples
// whose lower half is one value are handled by their plain standard deviation. step is
// that of the converter, 0 where unknown.
func modeOfSorted(x []float32, step float32) (level, noise float32) {
	med := x[len(x)/2]
	sd := med - x[int(0.1587*float64(len(x)))]
	if !(sd > 0) {
		sd = float32(math.Sqrt(meanSquareFrom(x, med)))
	}
	sd = max(sd, float32(NoiseLimit(float64(step)))) // or the next step would pass for outliers
	mean := med
	first := float64(med) // sums are about it
	var sum, sum2 float64 // of x
	for round := range 4 {
		lo, hi := med-3*sd, med+3*sd
		before := len(x)
		for len(x) > 0 && x[0] < lo {
			d := float64(x[0]) - first
			sum, sum2, x = sum-d, sum2-d*d, x[1:]
		}
		for len(x) > 0 && x[len(x)-1] > hi {
			d := float64(x[len(x)-1]) - first
			sum, sum2, x = sum-d, sum2-d*d, x[:len(x)-1]
		}
		if len(x) < 8 {
			break
		}
		if round == 0 {
			sum, sum2 = sumsFrom(x, first) // what is infinite is clipped now
		}
		n := float64(len(x))
		shift := sum / n
		mean = float32(first + shift)
		next := float32(math.Sqrt(max(0, sum2/n-shift*shift)) / clipped3)
		med = groupedMedian(x)
		if sd < coarse*step {
			med = spreadMedian(x, step)
		}
		done := len(x) == before || next > 0.99*sd
		if next > 0 {
			sd = next
		}
		if done {
			break
		}
	}
	if sd < skew*step {
		return mean, sd
	}
	return 2*med - mean, sd
}

// groupedMedian is the median of sorted quantised samples: those equal to the
// middle value are taken as spread evenly over the step between levels, so that
// the figure does not jump by whole steps (the median of grouped data, Kendall
// and Stuart 1977, from memory).
func groupedMedian(x []float32) float32 {
	below, above := len(x)/2, len(x)/2+1
	med := x[below]
	for below > 0 && x[below-1] == med {
		below--
	}
	for above < len(x) && x[above] == med {
		above++
	}
	equal := above - below
	step := float32(math.Inf(1))
	if below > 0 {
		step = med - x[below-1]
	}
	if above < len(x) {
		step = min(step, x[above]-med)
	}
	if equal < 2 || math.IsInf(float64(step), 0) {
		return med
	}
	return med + step*((float32(len(x))/2-float32(below))/float32(equal)-0.5)
}

func meanSquareFrom(x []float32, c float32) float64 {
	_, sum2 := sumsFrom(x, float64(c))
	return sum2 / float64(len(x))
}

// sumsFrom is the sum of the deviations from c and of their squares.
func sumsFrom[T Float](x []T, c float64) (sum, sum2 float64) {
	for _, v := range x {
		d := float64(v) - c
		sum += d
		sum2 += d * d
	}
	return sum, sum2
}

// radixSort sorts x, which must not hold NaN, by the bytes of its bits, the
// lowest first, between x and spare of the same length (Knuth 1973, The Art of
// Computer Programming 3, 5.2.5). Bytes in which all are alike, as the lowest
// of small whole numbers, cost nothing.
func radixSort(x, spare []float32) {
	if len(x) == 0 {
		return
	}
	var counts [4][256]int32
	for _, v := range x {
		k := sortKey(v)
		counts[0][byte(k)]++
		counts[1][byte(k>>8)]++
		counts[2][byte(k>>16)]++
		counts[3][byte(k>>24)]++
	}
	from, to := x, spare[:len(x)]
	for b := range counts {
		next, shift := &counts[b], 8*b
		if next[byte(sortKey(x[0])>>shift)] == int32(len(x)) {
			continue
		}
		var place int32
		for i, n := range next {
			next[i] = place
			place += n
		}
		for _, v := range from {
			i := byte(sortKey(v) >> shift)
			to[next[i]] = v
			next[i]++
		}
		from, to = to, from
	}
	if &from[0] != &x[0] {
		copy(x, from)
	}
}

// sortKey is a number that is in the order of the value.
func sortKey(v float32) uint32 {
	b := math.Float32bits(v)
	return b ^ (uint32(int32(b)>>31) | 1<<31) // negative: all bits turned; else the sign
}

// skew is the noise, in steps and with quantisation, under which where the level lies between
// two steps skews samples more than stars do: their mean shifts by less than their median.
const skew = 0.8

// coarse is the noise, in steps, under which samples lie in lumps a step apart even where
// a master with fractions of a step was taken off: beyond it they overlap.
const coarse = 2

// spreadMedian is the median of sorted samples, each taken as spread evenly over a step
// around it: that of grouped data where the groups themselves are spread by what was
// taken off them. As a converter it smooths by a step and shifts nothing.
func spreadMedian(x []float32, step float32) float32 {
	med := x[len(x)/2]
	for range 8 { // Newton's: the slope changes little within a step
		from, _ := slices.BinarySearch(x, med-step/2)
		var below float32 // parts of those within reach
		to := from
		for ; to < len(x) && x[to] < med+step/2; to++ {
			below += (med-x[to])/step + 0.5
		}
		if to == from {
			return med
		}
		med += step * (float32(len(x))/2 - float32(from) - below) / float32(to-from)
	}
	return med
}
