package subs

import (
	"math"

	"fitsqa/internal/stats"
)

// lowFewest subs tell the width at other altitudes.
const lowFewest = 8

// low tells whether a sub is soft because its target stood low: seeing grows with
// the airmass to the power 0.6, and taken to one airmass the sub is as sharp as the
// group's sharpest quarter. A lost focus stays wide at any altitude, and where widths
// taken to one airmass differ by more than they were, it is not the air above that makes them.
func (e *evidence) low() bool {
	if !e.Sky.Airmass.OK() || e.Field.Defocused {
		return false
	}
	var others, seen, taken []float64
	for _, o := range e.mates {
		if w := atOneAirmass(o); !math.IsNaN(w) {
			others, seen, taken = append(others, w), append(seen, math.Log(o.fwhm)), append(taken, math.Log(w))
		}
	}
	return len(others) >= lowFewest && atOneAirmass(e) <= sharpEnough*stats.Quantile(others, 0.25) &&
		stats.Variance(taken) < stats.Variance(seen)
}

// atOneAirmass is a sub's width over the baseline, as at airmass 1; NaN where
// either is unknown.
func atOneAirmass(e *evidence) float64 {
	if !e.Sky.Airmass.OK() {
		return math.NaN()
	}
	return e.fwhm * math.Pow(e.Sky.Airmass.V, -airmassPow)
}
