package sensor

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// SameReadout tells whether two groups share camera, size, binning, gain, offset and
// read-out mode as far as their headers tell.
func SameReadout(a, b *frames.Group) bool {
	return a.Camera == b.Camera && a.Width == b.Width && a.Height == b.Height && a.BinX == b.BinX && a.BinY == b.BinY &&
		agree(a.GainSetting, b.GainSetting) && agree(a.OffsetSetting, b.OffsetSetting) &&
		(a.ReadoutMode == b.ReadoutMode || a.ReadoutMode == "" || b.ReadoutMode == "")
}

// agree compares settings, an unknown one agreeing with any.
func agree(a, b float64) bool { return a == b || math.IsNaN(a) || math.IsNaN(b) }

// tempGap is the temperature difference in °C, a large one when unknown.
func tempGap(a, b *frames.Group) float64 {
	d := math.Abs(TemperatureOf(a) - TemperatureOf(b))
	if math.IsNaN(d) {
		return 1000
	}
	return d
}

// tempsFar tells that two groups are known to be so far apart in temperature that their
// dark current differs by half as much again or more, °C. Many a camera's headers tell no
// temperature, and its frames of one session are of about the same.
func tempsFar(a, b *frames.Group) bool {
	const far = 5
	return math.Abs(TemperatureOf(a)-TemperatureOf(b)) > far
}

// TemperatureOf is the median sensor temperature of a group's frames, else the
// one that was set; NaN when neither is known.
func TemperatureOf(g *frames.Group) float64 {
	var sensor, set []float64
	for _, f := range g.Frames {
		if t := f.Meta.SensorTemp; !math.IsNaN(t) {
			sensor = append(sensor, t)
		}
		if t := f.Meta.SetTemp; !math.IsNaN(t) {
			set = append(set, t)
		}
	}
	if len(sensor) > 0 {
		return stats.Median(sensor)
	}
	return stats.Median(set)
}
