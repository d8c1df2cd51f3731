package stats

import "math"

// PoissonTail is the probability of k or more events where lambda are expected.
func PoissonTail(k int, lambda float64) float64 {
	if lambda <= 0 {
		if k <= 0 {
			return 1
		}
		return 0
	}
	term, sum := math.Exp(-lambda), 0.0
	for i := range k {
		sum += term
		term *= lambda / float64(i+1)
	}
	// For small lambda the sum is too close to 1: the leading term of the tail
	// is then exact enough.
	return max(1-sum, term)
}
