package subs

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// What stands before the telescope takes the sky's light with the stars': leaves without an
// edge in focus, a net, a film of frost, a slit or a cap before a part of the aperture.
// Cloud and haze take the stars' alone: they scatter as much of the sky's into the beam, or
// more.
const (
	shadedFrom  = 0.5  // of the share that the stars lost, that the sky lost too: half way from cloud to cover
	shadedTo    = 1.5  // and at most: else the sky fell for itself, as with the setting Moon
	clearBeside = 0.95 // transparency of the sub that it is held against
	unlikeParts = 0.2  // sd of ln of the light from part to part from which on that tells, not the mean
)

// shaded tells whether the sky lost its light with the stars, beside the nearest clear sub:
// from part to part where these lost unlike shares, so that a sky that rose or fell for
// itself does not count.
func (e *evidence) shaded() bool {
	o := e.clearWithin(nearbyTime)
	if o == nil {
		return false
	}
	var sky, light []float64
	told := map[int]bool{} // parts; small frames tell the sky of few of its finer ones
	times, side := e.skyBeside(o)
	for k, r := range times {
		if at := k/side*stars.Parts/side*stars.Parts + k%side*stars.Parts/side; r > 0 && at < len(e.Transparency.Map) && !math.IsNaN(e.Transparency.Map[at]) {
			sky, light = append(sky, 1-r), append(light, 1-e.Transparency.Map[at]/o.Transparency.Ratio.V)
			told[at] = true
		}
	}
	if len(told) < leastParts {
		return false
	}
	slope := stats.Mean(sky) / stats.Mean(light)
	if v := stats.Variance(light); v > unlikeParts*unlikeParts {
		slope = stat.Covariance(light, sky, nil) / stat.Variance(light, nil)
	}
	return slope > shadedFrom && slope < shadedTo
}

// skyBeside is the sky over another sub's in side x side parts of the field: by its level, or
// where no offset tells that, by the variance of the noise, which goes with the sky as far as
// that limits.
func (e *evidence) skyBeside(o *evidence) (times []float64, side int) {
	own, other, power, side := e.Field.SkyParts, o.Field.SkyParts, 1., stars.SkyParts
	if e.skyByNoise {
		own, other, power, side = e.Field.NoiseParts, o.Field.NoiseParts, 2, stars.Parts
	}
	for k := range min(len(own), len(other)) {
		times = append(times, math.Pow(own[k]/other[k], power))
	}
	return times, side
}

// clearWithin is the clear sub of its group that was shot next to it, before or after; nil
// where there is none so near in time.
func (e *evidence) clearWithin(most time.Duration) *evidence {
	var nearest *evidence
	for _, o := range e.mates {
		t, apart := &o.Transparency, o.Start.Sub(e.Start).Abs()
		if o == e || !(t.Ratio.V > clearBeside) || t.Covered.V > 0 || len(o.Field.NoiseParts) != stars.Parts*stars.Parts || apart > most {
			continue
		}
		if nearest == nil || apart < nearest.Start.Sub(e.Start).Abs() {
			nearest = o
		}
	}
	return nearest
}
