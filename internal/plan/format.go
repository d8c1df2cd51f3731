package plan

import (
	"fmt"
	"math"

	"fitsqa/internal/stats"
)

// duration of s seconds as people say it: "2 h 35 min", "35 min", "40 s".
func duration(s float64) string {
	if s < 90 {
		return fmt.Sprintf("%.0f s", s)
	}
	minutes := int(math.Round(s / 60))
	switch {
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}

func seconds(s float64) string { return fmt.Sprintf("%g s", stats.Significant(s, 4)) }

// roughSeconds has two significant digits: more would pretend to precision.
func roughSeconds(s float64) string {
	if s < 1 {
		return fmt.Sprintf("%.1g s", s)
	}
	unit := math.Pow(10, math.Floor(math.Log10(s))-1)
	return fmt.Sprintf("%g s", math.Round(s/unit)*unit)
}

// percent of a fraction, with the digits that matter.
func percent(fraction float64) string {
	if p := 100 * fraction; p < 0.95 {
		return fmt.Sprintf("%.1g %%", p)
	}
	return fmt.Sprintf("%.0f %%", 100*fraction)
}

func or[S ~string](s S, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return string(s)
}
