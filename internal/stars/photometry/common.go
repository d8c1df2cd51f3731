package photometry

import (
	"math"

	"fitsqa/internal/stats"
)

const (
	fewestPooled = 5   // fields that tell what they have in common
	pooledAlike  = 3.0 // standard errors by which a field may differ from the others
)

// sharedValue is what values have in common, and the variance by which they differ beyond their errors.
type sharedValue struct{ middle, variance float64 }

// inCommon is that of the values that are known; of too few their variance has no limit.
func inCommon(values []stats.Value) sharedValue {
	var x, variances []float64
	for _, v := range values {
		if v.N > 0 && v.Err > 0 {
			x, variances = append(x, v.V), append(variances, v.Err*v.Err)
		}
	}
	if len(x) < fewestPooled {
		return sharedValue{variance: math.Inf(1)}
	}
	c := sharedValue{variance: math.Pow(stats.MADSigma(x), 2)}
	w := make([]float64, len(x))
	for range 6 { // each halves what is left at least
		for i, v := range variances {
			w[i] = 1 / (v + c.variance)
		}
		c.middle = stats.WeightedMedian(x, w)
		var sum, beyond float64
		for i, v := range variances {
			if away := x[i] - c.middle; w[i]*away*away < pooledAlike*pooledAlike {
				sum, beyond = sum+w[i], beyond+w[i]*(away*away-v)
			}
		}
		c.variance = max(0, beyond/sum) + 1/sum // that of what they have in common
	}
	return c
}

// share is that of the common value in a field's, of whose error a variance is open to it,
// and which may be so far apart from the others'.
func (c sharedValue) share(own stats.Value, open, apart float64) float64 {
	variance := own.Err*own.Err + c.variance + apart*apart
	if !(open > 0) || math.Abs(own.V-c.middle) > pooledAlike*math.Sqrt(variance) {
		return 0
	}
	return open / variance
}
