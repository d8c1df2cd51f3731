package stats

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
)

type weighted struct{ x, w float64 }

// WeightedMedian is the value with half the weight on either side, the mean of two that
// halve it between them; NaN for no values.
func WeightedMedian(x, w []float64) float64 {
	left := make([]weighted, len(x)) // those that it may be
	var total float64
	for i := range left {
		left[i] = weighted{x[i], w[i]}
		total += w[i]
	}
	var under float64     // weight of the values below these
	over := math.Inf(1)   // lowest of the values above
	highest := math.NaN() // of the values below, the median where rounding hides that it is
	for len(left) > 0 && total == total {
		pivot := middleOfThree(left)
		lower, upper := splitByValue(left, pivot)
		weightBelow, weightAt := under+weightOf(left[:lower]), weightOf(left[lower:upper])
		switch {
		case lower > 0 && weightBelow >= total/2:
			over, left = pivot, left[:lower]
		case weightBelow+weightAt > total/2:
			return pivot
		case weightBelow+weightAt == total/2:
			for _, v := range left[upper:] {
				over = min(over, v.x)
			}
			if math.IsInf(over, 1) {
				return pivot
			}
			return (pivot + over) / 2
		default:
			under, highest, left = weightBelow+weightAt, pivot, left[upper:]
		}
	}
	return highest
}

func weightOf(some []weighted) (sum float64) {
	for _, v := range some {
		sum += v.w
	}
	return sum
}

func middleOfThree(v []weighted) float64 {
	a, b, c := v[0].x, v[len(v)/2].x, v[len(v)-1].x
	return max(min(a, b), min(max(a, b), c))
}

// splitByValue brings what is less than a value before what is like it, and what is more
// after, and says where these begin.
func splitByValue(v []weighted, value float64) (alike, more int) {
	more = len(v)
	for i := 0; i < more; {
		switch {
		case v[i].x < value:
			v[i], v[alike] = v[alike], v[i]
			i, alike = i+1, alike+1
		case v[i].x > value:
			more--
			v[i], v[more] = v[more], v[i]
		default:
			i++
		}
	}
	return alike, more
}

// MedianValue is a weighted median (w nil: all alike) with its standard error,
// MedianErr times that of the weighted mean. The values' variances are what they
// scatter by, or what their own errors (nil: unknown) tell when that makes more:
// few values may agree by chance.
func MedianValue(x, w, errs []float64, why fact.Code) Value {
	if len(x) == 0 {
		return Missing(why)
	}
	if w == nil {
		w = slices.Repeat([]float64{1}, len(x))
	}
	v := WeightedMedian(x, w)
	var sum, squares, own float64
	away := make([]float64, len(x))
	for k := range x {
		sum += w[k]
		squares += w[k] * w[k]
		away[k] = math.Abs(x[k] - v)
		if errs != nil {
			own += w[k] * w[k] * errs[k] * errs[k]
		}
	}
	scatter := MADToSigma * WeightedMedian(away, w)
	variance := scatter * scatter * squares
	switch {
	case errs != nil:
		variance = max(variance, own)
	case len(x) < 3:
		variance = math.NaN()
	}
	return Known(v, MedianErr*math.Sqrt(variance)/sum, len(x))
}

// BeyondErrors takes a step towards the variance that deviations have beyond their own
// errors: with it, half of them are smaller than half of a normal distribution's. The
// deviations change.
func BeyondErrors(away, variances []float64, was float64) float64 {
	own := Median(variances)
	for k, d := range away {
		away[k] = d * d / (variances[k] + was)
	}
	return max(0, MADToSigma*MADToSigma*MedianInPlace(away)*(own+was)-own)
}
