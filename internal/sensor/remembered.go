package sensor

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/stats"
)

// Remembered is a figure of a camera from an earlier night, for a night whose own
// frames do not tell it: names and units are those of calibration.csv.
type Remembered struct {
	Camera  names.Name
	Setting string // what must be equal for it to hold now: Setting of a group, or of a camera's mode
	Metric  string
	Value   stats.Value // N: frames behind it
	Night   string      // date of the evening on which its frames were shot
}

// Recall finds a remembered figure; Missing, and no night, when there is none.
func Recall(all []Remembered, camera names.Name, setting, metric string) (value stats.Value, night string) {
	for _, r := range all {
		if r.Camera.Is(camera) && SameSetting(r.Setting, setting) && r.Metric == metric {
			return r.Value, r.Night
		}
	}
	return stats.Missing(NotRemembered), ""
}

// SettingKey is one for all spellings of a setting. A filter's name may be spelled
// in several ways; the sign of a temperature is none of its hyphens.
func SettingKey(setting string) string {
	parts := strings.Split(setting, ", ")
	for i, p := range parts {
		if degrees, ok := strings.CutSuffix(p, " °C"); ok {
			parts[i] = strings.Replace(degrees, "-0", "0", 1)
			continue
		}
		parts[i] = string(names.Name(p).Key())
	}
	return strings.Join(parts, ", ")
}

// SameSetting tells whether two settings are one.
func SameSetting(a, b string) bool { return a == b || SettingKey(a) == SettingKey(b) }

// Setting is what two groups must share for their figures to be comparable.
func Setting(g *frames.Group) string {
	parts := modeParts(g.GainSetting, g.OffsetSetting, g.ReadoutMode)
	switch g.Kind {
	case frames.Dark: // what is hot or dark depends on temperature, and hot pixels on the exposure
		parts = appendKnown(parts, "%.0f °C", g.SetTemp)
		parts = appendKnown(parts, "%g s", stats.Significant(g.Exposure, 4))
	case frames.Flat:
		parts = append(parts, string(g.Filter))
	}
	return strings.Join(appendBinning(parts, g.BinX, g.BinY), ", ")
}

// setting of a mode as Setting writes it: the offset does not matter to what a
// camera's summary holds.
func (m Mode) setting() string {
	return strings.Join(appendBinning(modeParts(m.GainSetting, math.NaN(), m.ReadoutMode), m.BinX, m.BinY), ", ")
}

func modeParts(gain, offset float64, readout names.Name) []string {
	parts := appendKnown(appendKnown(nil, "gain %g", gain), "offset %g", offset)
	if readout != "" {
		parts = append(parts, "read out "+string(readout))
	}
	return parts
}

func appendKnown(parts []string, format string, x float64) []string {
	if math.IsNaN(x) {
		return parts
	}
	return append(parts, fmt.Sprintf(format, x))
}

func appendBinning(parts []string, x, y int) []string {
	if x > 1 || y > 1 {
		return append(parts, fmt.Sprintf("binning %dx%d", x, y))
	}
	return parts
}
