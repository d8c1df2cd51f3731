package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/sensor"

	"fitsqa/internal/night"
)

// calibrationLines is one line a set with its leading figures.
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
	return known(s.Group.Exposure)
}

// brief writes a figure with three significant digits, or whole from 100 on.
func brief(v float64) string {
	if math.Abs(v) >= 100 || v == math.Trunc(v) {
		return decimals(v, 0)
	}
	return significant(v, 3)
}

// leadingMetrics are the figures of each kind that the page shows first.
var leadingMetrics = map[string][]struct{ name, words string }{
	"camera": {
		{"gain_e_per_adu", "gain"}, {"read_noise_e", "read noise"}, {"full_well_e", "full well"},
		{"dynamic_range_stops", "dynamic range"}, {"dark_doubling_c", "dark doubles every"},
	},
	"bias": {{"offset_adu", "offset"}, {"read_noise_adu", "read noise"}, {"read_noise_e", ""}},
	"dark": {{"dark_current_e_per_s", "dark current"}, {"dark_current_adu_per_s", ""}, {"hot_pixels", "hot"}, {"glow_e", "glow"}},
	"flat": {{"level_fraction", "level"}, {"gain_e_per_adu", "gain"}, {"corner_falloff_pct", "corner falloff"}, {"dust_shadows", "dust shadows"}},
}

// leading words the first figures of a set and how many frames it has.
func leading(s *sensor.Set) string {
	var parts []string
	for _, want := range leadingMetrics[s.Kind] {
		for _, m := range s.Metrics {
			if m.Name == want.name && m.Value.OK() {
				parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s %s", want.words, brief(m.Value.V), m.Unit)))
			}
		}
	}
	if s.Group != nil {
		parts = append(parts, plural(len(s.Group.Frames), "frame"))
	}
	if n := len(s.Warnings); n > 0 {
		parts = append(parts, plural(n, "warning"))
	}
	if len(parts) == 0 {
		return "nothing could be measured"
	}
	return strings.Join(parts, ", ")
}
