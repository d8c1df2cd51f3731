package subs

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stats"
)

// Frost and dew settle unevenly, often from the middle of the optics on; but where they
// took most of the light, they took most of it before and will after. A cloud moves on
// between subs. (Common practice, no source.)
const (
	standsAt      = 0.7 // correlation of what two subs lost over the field, from which the pattern is the same
	standFewest   = 2   // others that have the same
	standShows    = cloudPatchy
	leastParts    = 6 // of the field, that both subs tell of
	leastDarkness = 0.05
)

// standing tells whether a sub's light is uneven in the way of others of its session that
// are uneven too, most of them: what took it stands still over the sensor.
func (e *evidence) standing() bool {
	shows := standShows * e.lim.UnevennessDoubtful
	if !(e.unevenness > shows) {
		return false
	}
	var alike []float64
	for _, o := range e.mates {
		if o != e && o.unevenness > shows {
			if r := samePattern(e.Transparency.Map, o.Transparency.Map); !math.IsNaN(r) {
				alike = append(alike, r)
			}
		}
	}
	return len(alike) >= standFewest && stats.Median(alike) > standsAt
}

// samePattern is the correlation of ln of the light that arrives in the parts of two
// fields; NaN where they have too few parts in common. Parts without light have a little.
func samePattern(a, b []float64) float64 {
	var x, y []float64
	for k := range min(len(a), len(b)) {
		if !math.IsNaN(a[k]) && !math.IsNaN(b[k]) {
			x, y = append(x, math.Log(max(a[k], leastDarkness))), append(y, math.Log(max(b[k], leastDarkness)))
		}
	}
	if len(x) < leastParts {
		return math.NaN()
	}
	return stat.Correlation(x, y, nil)
}
