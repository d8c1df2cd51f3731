package sensor

import (
	"math"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Mode is one camera at one gain and binning: what shares e-/ADU, read noise
// and full well.
type Mode struct {
	Camera      names.Name
	BinX, BinY  int
	GainSetting float64 // NaN when not known
}

// ModeOf is the mode that a group was shot in.
func ModeOf(g *frames.Group) Mode { return Mode{g.Camera, g.BinX, g.BinY, g.GainSetting} }

// Same tells whether two modes are one; an unknown gain setting is a setting of its own.
func (m Mode) Same(other Mode) bool {
	return m.Camera == other.Camera && m.BinX == other.BinX && m.BinY == other.BinY && stats.Same(m.GainSetting, other.GainSetting)
}

// mode is what is known of a camera's mode.
type mode struct {
	Mode

	gain           stats.Value // e-/ADU, the one used
	gainFrom       string      // "measured", "memory", "header" or ""
	gainWhen       string      // of which night the remembered one is, in words
	readNoiseFrom  string      // where a read noise that was not measured is from, in words
	lawWhen        string      // of which night a remembered temperature law is, in words
	measured       stats.Value // e-/ADU from flats
	header         float64     // e-/ADU, median of what headers claim
	readNoise      stats.Value // ADU
	saturation     float64     // ADU; NaN when not known
	saturationFrom string      // how it is known, in words

	transfer     []TransferPoint
	fit          stats.Line  // variance against signal
	curvature    stats.Value // %
	peakAt       float64     // ADU, signal at which the variance is highest
	fullWellSeen bool
	brightGain   bool // measured by flats brighter than where the sensor is surely linear
	series       []ExposureSeries
	law          TemperatureLaw
	thermometer  float64 // °C, its step

	oldRate, oldEnergy stats.Value // of an earlier night: e-/s at 0 °C, eV
}

// modeOf finds the mode that a group was shot in.
func (cs *Cameras) modeOf(g *frames.Group) *mode {
	for _, m := range cs.modes {
		if m.has(g) {
			return m
		}
	}
	m := &mode{Mode: ModeOf(g),
		gain: stats.Missing("no flats and no e-/ADU in the header"), measured: stats.Missing("no flats"),
		header: math.NaN(), readNoise: stats.Missing("no bias frames"), saturation: math.NaN()}
	cs.modes = append(cs.modes, m)
	return m
}

func (m *mode) has(g *frames.Group) bool { return m.Same(ModeOf(g)) }
