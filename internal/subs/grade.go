package subs

import (
	"math"

	"fitsqa/internal/stats"
)

// surely is what a figure exceeds with some certainty: two standard errors less.
func surely(v stats.Value) float64 {
	return math.Max(0, v.Surely())
}

func ratio(a, b float64) float64 {
	if !(a > 0) || !(b > 0) {
		return math.NaN()
	}
	return a / b
}

// grade holds a figure for which more is worse against its two limits.
func grade(x, doubtful, cull float64) (Verdict, float64) {
	switch severity := 1 + (x-doubtful)/math.Max(cull-doubtful, 1e-9); {
	case x > cull:
		return Cull, math.Min(severity, certain/2)
	case x > doubtful:
		return Doubtful, severity
	}
	return Keep, 0
}

// gradeLow is grade for a figure for which less is worse.
func gradeLow(x, doubtful, cull float64) (Verdict, float64) { return grade(-x, -doubtful, -cull) }

// square of a standard error; an unknown one counts as none.
func square(err float64) float64 {
	if math.IsNaN(err) {
		return 0
	}
	return err * err
}

// crossed is the limit that a verdict crossed.
func crossed(v Verdict, doubtful, cull float64) float64 {
	if v == Cull {
		return cull
	}
	return doubtful
}
