package calib

import (
	"math"

	"fitsqa/internal/stats"
)

// pileUp is the sample at which saturated pixels pile up: the highest value
// that occurs, when it is far commoner than the values just below it; NaN when
// no frame reached saturation.
func pileUp(h *stats.Histogram) float64 {
	top := len(h.Counts) - 1
	for top >= 0 && h.Counts[top] == 0 {
		top--
	}
	if top < 0 {
		return math.NaN()
	}
	// Saturation may be smeared over a few values by the read-out: take the
	// commonest of the last few per mille, and ask that it stand out.
	best := top
	for v := top; v > 0 && v > top-top/500-2; v-- {
		if h.Counts[v] > h.Counts[best] {
			best = v
		}
	}
	var below, bins float64
	for v := best - 1; v >= 0 && v > best-best/20-64; v-- {
		if h.Counts[v] > 0 {
			below += float64(h.Counts[v])
			bins++
		}
	}
	n := float64(h.Counts[best])
	if n < 10 || (bins > 0 && n < 20*below/bins) {
		return math.NaN()
	}
	if bins == 0 && n == float64(h.N()) {
		return math.NaN() // a constant frame
	}
	return float64(best)
}
