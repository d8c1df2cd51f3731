package stats

import (
	"math"
	"slices"
)

// WeightedMedian is the value with half the weight on either side.
func WeightedMedian(x, w []float64) float64 {
	type weighted struct{ x, w float64 }
	sorted := make([]weighted, len(x))
	var total float64
	for i := range sorted {
		sorted[i] = weighted{x[i], w[i]}
		total += w[i]
	}
	slices.SortFunc(sorted, func(a, b weighted) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	var sum float64
	for k, v := range sorted {
		sum += v.w
		if sum >= total/2 {
			if k+1 < len(sorted) && sum == total/2 {
				return (v.x + sorted[k+1].x) / 2
			}
			return v.x
		}
	}
	return math.NaN()
}

// MedianValue is a weighted median (w nil: all alike) with its standard error,
// 1.2533 times that of the weighted mean. The values' variances are what they
// scatter by, or what their own errors (nil: unknown) tell when that makes more:
// few values may agree by chance.
func MedianValue(x, w, errs []float64, why string) Value {
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
	return Known(v, 1.2533141373155001*math.Sqrt(variance)/sum, len(x))
}
