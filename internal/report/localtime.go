package report

import (
	"fmt"
	"math"
	"time"

	"fitsqa/internal/night"
)

// localAhead is local time ahead of UTC, s; missing where it is not known.
func localAhead(l night.LocalTime) real {
	if !l.Known {
		return real(math.NaN())
	}
	return real(l.Ahead.Seconds())
}

// localSpan tells a stretch of time in local time; "" where it is not known.
func localSpan(l night.LocalTime, from, to time.Time) string {
	if !l.Known {
		return ""
	}
	in := func(t time.Time) string { return t.UTC().Add(l.Ahead).Format("15:04") }
	sign, ahead := "+", l.Ahead
	if ahead < 0 {
		sign, ahead = "−", -ahead
	}
	zone := fmt.Sprintf("UTC%s%d", sign, int(ahead.Hours()))
	if minutes := int(ahead.Minutes()) % 60; minutes != 0 {
		zone += fmt.Sprintf(":%02d", minutes)
	}
	if l.Zone {
		zone += " by the site's longitude"
	}
	return fmt.Sprintf("%s to %s local time, %s", in(from), in(to), zone)
}

// startLayout is how the start of a sub is written: with its date where there are
// several nights.
func startLayout(r *night.Result) string {
	if sum := summarize(r); sum.Last.Sub(sum.First) > 20*time.Hour {
		return "01-02 15:04:05"
	}
	return "15:04:05"
}
