package night

import (
	"math"

	"fitsqa/internal/names"
)

// lightKind is what subs of a field must have in common for their stars to be compared.
type lightKind struct {
	filter names.Name
	gain   float64 // the setting, where nothing tells what another does to the light in ADU
}

// ofOneLight parts the subs of a field by what their light can be compared under.
func ofOneLight(same []*Sub) [][]*Sub {
	told := gainsTold(same)
	return partition(same, func(s *Sub) lightKind {
		if told || math.IsNaN(s.GainSetting) {
			return lightKind{filter: s.Filter}
		}
		return lightKind{s.Filter, s.GainSetting}
	})
}

// sameGain is how far apart the e-/ADU of two gain settings are at most, as a share, to be
// the same: settings are made to differ by more (common practice, no source).
const sameGain = 0.005

// gainsTold tells whether the e-/ADU of all gain settings are known. Headers may hold the
// same for all of them: then these tell nothing.
func gainsTold(same []*Sub) bool {
	known := map[float64]float64{}
	for _, s := range same {
		if !math.IsNaN(s.GainSetting) {
			known[s.GainSetting] = s.ElectronsPerADU
		}
	}
	for setting, e := range known {
		for other, o := range known {
			if other != setting && !(math.Abs(e/o-1) > sameGain) {
				return false
			}
		}
	}
	return true
}
