package frames

import (
	"math"
	"strconv"

	"fitsqa/internal/stats"
)

// exposureTolerance is within what share exposures of one group agree.
const exposureTolerance = 0.01

func exposureText(t float64) string {
	if math.IsNaN(t) {
		return "exposure unknown"
	}
	return strconv.FormatFloat(significantSeconds(t), 'f', -1, 64) + " s"
}

func significantSeconds(t float64) float64 { return stats.Significant(t, 4) }

func sameExposure(fs []*Frame) bool {
	for _, f := range fs {
		if !same(f.Meta.Exposure, fs[0].Meta.Exposure, exposureTolerance*fs[0].Meta.Exposure) {
			return false
		}
	}
	return true
}

// same compares within a tolerance; unknown equals unknown only.
func same(a, b, tolerance float64) bool {
	if math.IsNaN(a) || math.IsNaN(b) {
		return math.IsNaN(a) && math.IsNaN(b)
	}
	return math.Abs(a-b) <= tolerance
}
