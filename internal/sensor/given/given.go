// Package given makes measured sets of calibration frames with given figures, for tests.
package given

import (
	"fitsqa/internal/frames"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Set is a measured set of frames of one kind, without figures yet.
func Set(g *frames.Group) *sensor.Set {
	s := sensor.NewSet(string(g.Kind), "not measured")
	s.Label, s.Group, s.Measured = string(g.Kind), g, true
	return s
}

// Give gives a set a figure.
func Give(s *sensor.Set, metric string, v stats.Value) { s.Figure(metric).Value = v }

// Group is n frames of one kind of so many seconds at a temperature.
func Group(kind frames.Kind, n int, exposure, celsius float64) *frames.Group {
	g := &frames.Group{Kind: kind, Camera: "Invented Mono 1", BinX: 1, BinY: 1, GainSetting: 100, Width: 6000, Height: 4000, Exposure: exposure}
	for range n {
		m := frames.NoMeta()
		m.SensorTemp = celsius
		g.Frames = append(g.Frames, &frames.Frame{Kind: kind, Meta: m})
	}
	return g
}

// Darks is a set of 20 darks with rates as given, e-/s, and errors of a percent.
func Darks(exposure, celsius, current, pattern float64, hot ...sensor.HotRate) *sensor.Set {
	s := Set(Group(frames.Dark, 20, exposure, celsius))
	s.Dark.RateUnit, s.Dark.HotRates, s.Dark.Uneven = "e-/s", hot, pattern*exposure
	Give(s, "dark_current_e_per_s", stats.Known(current, current/100, 20))
	Give(s, "warm_nonuniformity_e_per_s", stats.Known(pattern, pattern/100, 20))
	return s
}

// Glowing gives a dark set a glow of so many electrons in its upper right corner.
func Glowing(s *sensor.Set, electrons float64) *sensor.Set {
	Give(s, "glow_e", stats.Known(electrons, electrons/50, 20))
	Give(s, "glow_x", stats.Known(5900, 10, 20))
	s.Dark.Glow = stats.Map{Width: 10, Height: 10, Step: 400, Values: make([]float64, 100)}
	s.Dark.Glow.Values[99] = electrons
	s.Dark.GlowPlace = sensor.UpperRight
	return s
}
