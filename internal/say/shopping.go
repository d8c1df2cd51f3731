package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/plan"
	"fitsqa/internal/stats"
)

// Shopping is what to shoot, and why.
func Shopping(s *plan.Shopping) string {
	what := frameNames[frames.Kind(s.Kind)]
	if s.Frames != 1 {
		what += "s"
	}
	more := ""
	if s.Have > 0 {
		more = "more "
	}
	var at []string
	add := func(format string, x float64) {
		if !math.IsNaN(x) {
			at = append(at, fmt.Sprintf(format, x))
		}
	}
	if s.Kind == "flat" {
		if s.Filter != "" {
			what += " through " + string(s.Filter)
		}
	}
	add("%g s", stats.Significant(s.Exposure, 4))
	add("%.0f °C", s.TempC)
	add("gain %g", s.GainSetting)
	add("offset %g", s.OffsetSetting)
	if s.Binning > 1 {
		at = append(at, fmt.Sprintf("binning %d", s.Binning))
	}
	text := fmt.Sprintf("Shoot %d %s%s", s.Frames, more, what)
	if len(at) > 0 {
		text += " at " + strings.Join(at, ", ")
	}
	text += ": " + ShoppingReason(s)
	if s.Kind == "flat" {
		text += "; before camera, focus or filter are touched"
	}
	return text + "."
}

// ShoppingReason is why it is to be shot.
func ShoppingReason(s *plan.Shopping) string {
	var text string
	switch s.Lack {
	case plan.NoneThere:
		text = "there are none"
	case plan.NotFitting:
		text = "those in the folder do not fit"
		if s.AtHand != nil {
			text = Fit(s.AtHand)
		}
	case plan.TooFew:
		text = fmt.Sprintf("%d %s few for %s", s.Have, verb(s.Have, "is", "are"), count(s.Subs, "sub"))
	}
	switch s.Gain {
	case plan.Untold:
		text += "; with them it can be told whether darks are worth it"
	case plan.GlowOff:
		text += fmt.Sprintf("; they take off a glow of %.2g e-, or blur a master of five", s.GlowE)
	case plan.LessNoise:
		text += fmt.Sprintf("; they lower the noise of the stack by %s", percent(s.GainPct/100))
	}
	return text
}
