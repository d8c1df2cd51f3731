package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

func calibrationLines(r *night.Result) []string {
	if r.Calib == nil {
		return nil
	}
	var texts []string
	for _, kind := range []string{"camera", "bias", "dark", "flat"} {
		var sets []*sensor.Set
		for _, s := range r.Calib.Sets {
			if s.Kind == kind {
				sets = append(sets, s)
			}
		}
		slices.SortStableFunc(sets, func(a, b *sensor.Set) int { return cmp.Compare(exposure(a), exposure(b)) })
		for _, s := range sets {
			texts = append(texts, s.Label+": "+leading(s))
		}
	}
	return texts
}

// exposure of a set's frames, s; 0 where it has none.
func exposure(s *sensor.Set) float64 {
	if s.Group == nil {
		return 0
	}
	return stats.OrZero(s.Group.Exposure)
}

// brief writes a figure with three significant digits, or whole from 100 on.
func brief(v float64) string {
	if math.Abs(v) >= 100 || v == math.Trunc(v) {
		return decimals(v, 0)
	}
	return significant(v, 3)
}

// leading words the first figures of a set and how many frames it has.
func leading(s *sensor.Set) string {
	var parts []string
	for _, m := range s.Metrics() {
		if m.Leading && m.OK() {
			parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s %s", m.Lead, brief(m.V), m.Unit)))
		}
	}
	if s.Group != nil {
		parts = append(parts, fact.Plural(len(s.Group.Frames), "frame"))
	}
	if n := len(s.Warnings); n > 0 {
		parts = append(parts, fact.Plural(n, "warning"))
	}
	if len(parts) == 0 {
		return "nothing could be measured"
	}
	return strings.Join(parts, ", ")
}
