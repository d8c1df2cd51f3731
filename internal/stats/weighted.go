package stats

import (
	"math"
	"slices"
)

// WeightedMedian is the value with half the weight on either side.
func WeightedMedian(x, w []float64) float64 {
	order := make([]int, len(x))
	var total float64
	for i := range order {
		order[i] = i
		total += w[i]
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
	var sum float64
	for k, i := range order {
		if sum+w[i] >= total/2 {
			if k+1 < len(order) && sum+w[i] == total/2 {
				return (x[i] + x[order[k+1]]) / 2
			}
			return x[i]
		}
		sum += w[i]
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
