package subs

import (
	"math"

	"fitsqa/internal/stats"
)

// usableSubs are those that were measured and are no copies.
func usableSubs(all []*Sub) []*Sub {
	var usable []*Sub
	for _, s := range all {
		if s.Field != nil && s.DuplicateOf == "" {
			usable = append(usable, s)
		}
	}
	return usable
}

// quantile of a figure over the subs that have it; NaN when none has.
func quantile(subs []*Sub, p float64, figure func(*Sub) float64) float64 {
	var x []float64
	for _, s := range subs {
		if v := figure(s); !math.IsNaN(v) && !math.IsInf(v, 0) {
			x = append(x, v)
		}
	}
	return stats.Quantile(x, p)
}

// median of a figure over the measured subs; NaN for none.
func median(all []*Sub, figure func(*Sub) float64) float64 {
	return quantile(usableSubs(all), 0.5, figure)
}
