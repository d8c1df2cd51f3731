package sensor

import (
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Mode is one camera at one gain, binning and way of reading out: what shares e-/ADU, read noise
// and full well.
type Mode struct {
	Camera      names.Name
	BinX, BinY  int
	GainSetting float64    // NaN when not known
	ReadoutMode names.Name // "" when not known, or the camera's only one
}

// ModeOf is the mode that a group was shot in.
func ModeOf(g *frames.Group) Mode {
	return Mode{g.Camera, g.BinX, g.BinY, g.GainSetting, g.ReadoutMode}
}

// Same tells whether two modes are one; an unknown gain setting is a setting of its own.
func (m Mode) Same(other Mode) bool {
	return m.Camera == other.Camera && m.BinX == other.BinX && m.BinY == other.BinY && stats.Same(m.GainSetting, other.GainSetting) && m.ReadoutMode == other.ReadoutMode
}

// The transfer curve is fitted up to this share of saturation (EMVA 1288; from
// memory), and points under the first share tell little.
const (
	fitUpTo   = 0.70
	brightTop = 0.90 // above, noise and the dimmer corners' light are cut at the top
	fitFrom   = 0.02
	linearLow = 0.05
	linearTop = 0.95
)
