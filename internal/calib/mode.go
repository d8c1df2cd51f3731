package calib

import (
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
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
	return m.Camera == other.Camera && m.BinX == other.BinX && m.BinY == other.BinY && same(m.GainSetting, other.GainSetting)
}
