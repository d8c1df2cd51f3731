package say

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
)

// figuresOfHealth are the figures that tell a camera's health, and what to do when one
// has changed (common practice, no source).
var figuresOfHealth = map[string]struct{ name, remedy string }{
	"offset_adu":             {"offset", "shoot bias frames and darks anew"},
	"read_noise_adu":         {"read noise", "look at power supply, cable and read-out mode"},
	"read_noise_e":           {"read noise", "look at power supply, cable and read-out mode"},
	"gain_e_per_adu":         {"gain", "look at gain setting, read-out mode, and whether the flats' light is steady"},
	"dark_current_e_per_s":   {"dark current", "look at the cooler and for stray light, shoot darks anew"},
	"dark_current_adu_per_s": {"dark current", "look at the cooler and for stray light, shoot darks anew"},
	"hot_pixels":             {"number of hot pixels", "shoot darks anew"},
}

// cameraChange tells of a figure that is not what it was, and what to do about it.
func cameraChange(c night.CameraChange) string {
	of := figuresOfHealth[c.Metric]
	return frames.Printable(fmt.Sprintf("%s: %s %s (%s), was %s until %s: %s", c.Camera, of.name,
		strings.TrimSpace(measured(c.Latest)+" "+c.Unit), c.Setting, measured(c.Before), c.Until, of.remedy))
}

func measured(v stats.Value) string {
	return cmp.Or(v.PlusMinus(), strconv.FormatFloat(stats.Significant(v.V, 5), 'f', -1, 64))
}

// Changed tells of the latest figure of a series that differs from those before it; ""
// where it does not.
func Changed(s *ledger.Series) string {
	c := s.Change
	if c == nil {
		return ""
	}
	return frames.Printable(fmt.Sprintf("%s: %s (%s) went from %.4g to %.4g %s on %s; beyond the %.2g that noise and daily change explain",
		s.Camera, figuresOfHealth[s.Metric].name, s.Setting, c.Before.Value, c.Latest.Value, s.Unit, c.Latest.Night, c.Limit))
}
