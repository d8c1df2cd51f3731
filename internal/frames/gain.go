package frames

import (
	"math"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// gains settles what the header's gain keywords mean. GAIN has been written
// both for the camera's own gain number and for electrons per ADU. It is taken
// as e-/ADU when its comment says so, or when it has a fraction, is below 20,
// and no other card gives e-/ADU; as the camera's setting otherwise. That a
// fraction means e-/ADU is a guess, and a warning says so.
func (l *lookup) gains(m *Meta) {
	m.ElectronsPerADU = l.positive(synonyms.electronsPerADU, nil, math.NaN(), 1e4)
	l.cards(synonyms.gain, func(k keyword, c card) bool {
		v, unit, ok := parseNumber(c.value)
		if !ok {
			l.warn(CardNoNumber, ofCard(k.name, c)...)
			return false
		}
		if v < 0 || v > 1e6 {
			return false
		}
		switch {
		case perADU(c.comment) || perADU(unit):
			if v > 0 && math.IsNaN(m.ElectronsPerADU) {
				m.ElectronsPerADU = v
			}
			return false
		case math.IsNaN(m.ElectronsPerADU) && v != math.Trunc(v) && v < 20 && k.name == "GAIN":
			m.ElectronsPerADU = v
			l.warn(GainFraction, fact.Number("gain", stats.Significant(v, 4)))
			return false
		}
		m.GainSetting = stats.Significant(v, settingDigits)
		return true
	})
	if math.IsNaN(m.GainSetting) {
		m.GainSetting = l.positive(synonyms.iso, nil, math.NaN(), 1e7)
	}
}

// settingDigits are how many digits of a camera's settings are compared: those of a driver's
// floating point are none.
const settingDigits = 5

func perADU(s string) bool {
	s = strings.ToLower(strings.NewReplacer(" ", "", "-", "", "_", "", ".", "").Replace(s))
	for _, unit := range []string{"e/adu", "e/dn", "electrons/adu", "electrons/dn", "electron/adu", "electronsperadu", "electronsperdn", "e/count", "photons/adu", "elec/adu", "eperadu"} {
		if strings.Contains(s, unit) {
			return true
		}
	}
	return false
}
