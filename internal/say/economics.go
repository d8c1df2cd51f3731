package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/subs"
)

// Economics is what dropping subs does to a group's stack.
func Economics(ec *subs.Economics) string {
	if len(ec.Plain) == 0 {
		return "no sub whose signal and noise are both known: what cutting does to the stack cannot be told"
	}
	var w []string
	change := func(v, of float64) string { return fmt.Sprintf("%+.0f %%", 100*(v/of-1)) }
	scaled, best := "", " (one without measurable light, scaled up, drowns the rest)"
	if all := ec.Scaled[0]; all > 0 {
		scaled = "of a scaled average by " + change(ec.UserScaled, all) + ", "
		best = " (" + change(ec.Scaled[ec.BestDrop], all) + ")"
	}
	switch {
	case ec.UserDrop == 0:
		w = append(w, "nothing is culled")
	case math.IsNaN(ec.UserPlain):
		w = append(w, "every sub is culled")
	default:
		w = append(w, fmt.Sprintf("culling %d of %d changes the signal to noise %sof a plain one by %s, of a weighted one by %s (%.0f min of clear sky)",
			ec.UserDrop, ec.Stacked, scaled, change(ec.UserPlain, 1), change(ec.UserWeighted, ec.Weighted[0]), ec.UserClearSeconds/60))
		if !math.IsNaN(ec.FWHM[0]) && !math.IsNaN(ec.UserFWHM) {
			w = append(w, "and the stack's FWHM "+fromTo(ec.FWHM[0], ec.UserFWHM)+" px"+inArcsec(ec.PixelScale, ec.FWHM[0], ec.UserFWHM)+", its ellipticity "+fromTo(ec.Ellipticity[0], ec.UserEllipticity))
		}
	}
	if ec.BestDrop > 0 {
		w = append(w, fmt.Sprintf("by noise alone the best scaled average drops the worst %d%s", ec.BestDrop, best))
	} else {
		w = append(w, "by noise alone a scaled average is best with all")
	}
	if !math.IsNaN(ec.HalfWeight) {
		w = append(w, fmt.Sprintf("a sub at transparency %.2f still adds %.2f of a clear one to a weighted stack", ec.HalfTransparency, ec.HalfWeight))
	}
	return Typeset(strings.Join(w, "; "))
}

// fromTo tells of a change, or that there is none that digits show.
func fromTo(before, after float64) string {
	a, b := fmt.Sprintf("%.2f", before), fmt.Sprintf("%.2f", after)
	if a == b {
		return "still " + a
	}
	return "from " + a + " to " + b
}

// inArcsec adds widths in arcseconds where the subs' scale is known.
func inArcsec(scale, before, after float64) string {
	if !(scale > 0) {
		return ""
	}
	return " (" + fromTo(before*scale, after*scale) + "″)"
}
