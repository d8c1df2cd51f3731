package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/plan"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

// exposureWords are the advice on all exposures; where there is none, groups of one
// reason stand together.
func exposureWords(all []plan.Exposure) []string {
	var w, reasons []string
	of := map[string][]string{}
	for i := range all {
		e := &all[i]
		if e.Advice() != "" {
			w = append(w, Exposure(e))
			w = append(w, bandwidthWords(e)...)
			continue
		}
		why := Fact(e.Shortest.Why)
		if of[why] == nil {
			reasons = append(reasons, why)
		}
		of[why] = append(of[why], or(e.Group, "unnamed subs"))
	}
	for _, why := range reasons {
		w = append(w, "No advice on the exposure of "+strings.Join(of[why], ", ")+": "+why+".")
	}
	return w
}

func exposureName(e *plan.Exposure) string {
	return or(e.Target, "Unnamed target") + ", " + or(e.Filter, "no filter")
}

// Exposure is the advice on one group's exposure, with the figures that it rests on; ""
// where there is none.
func Exposure(e *plan.Exposure) string {
	span := exposureRange(*e)
	var text string
	switch e.Advice() {
	case "":
		return ""
	case plan.ExposeNew:
		text = "expose " + span + ": " + shortWords(e)
	case plan.Longer:
		text = "expose longer, " + span + ", for " + percent(e.Gain) + " more signal to noise: at " + setTime(e.Current) + " " + skyNoise(e) + ", and " + percent(e.ReadNoiseShare) + " at " + roughTime(e.Shortest.V)
	case plan.Shorter:
		text = fmt.Sprintf("expose shorter, %s: at %s %s of the subs trailed, and shorter ones lose less", span, setTime(e.Current), percent(e.TrailedShare.V))
	case plan.ShorterWould:
		text = fmt.Sprintf("%s would do, %s gain nothing: %s, and a spoiled sub costs less", span, setTime(e.Current), shortWords(e))
	case plan.Stay:
		text = "stay at " + setTime(e.Current) + otherwise(e) + ": " + skyNoise(e)
		if e.Best.OK() && e.Shortest.V > e.Current {
			text += fmt.Sprintf("; %s of the subs trailed, which makes some %s the best", percent(e.TrailedShare.V), roughTime(e.Best.V))
		}
	}
	return exposureName(e) + ": " + text + gapWords(e) + starWords(e) + "."
}

func otherwise(e *plan.Exposure) string {
	shorter, longer := e.From < e.Current*0.99, e.To > e.Current*1.01
	switch {
	case shorter && longer:
		return fmt.Sprintf(" (%g to %s do as well)", stats.Significant(e.From, 4), setTime(e.To))
	case longer:
		return fmt.Sprintf(" (up to %s does as well)", setTime(e.To))
	case shorter:
		return fmt.Sprintf(" (%s and more do as well)", setTime(e.From))
	}
	return ""
}

// Bortle is an approximate word for a sky's brightness: "about Bortle 6 to 7"; "" for none.
func Bortle(b sky.Bortle) string {
	switch b.Lowest {
	case 0:
		return ""
	case b.Highest:
		return fmt.Sprintf("about Bortle %d", b.Lowest)
	}
	return fmt.Sprintf("about Bortle %d to %d", b.Lowest, b.Highest)
}

func skyNoise(e *plan.Exposure) string {
	of := fmt.Sprintf("%.2g e-/s a pixel", e.Sky.V)
	if e.SkyMag.OK() {
		of += fmt.Sprintf(", %.1f mag per square arcsecond", e.SkyMag.V)
	}
	if classes := Bortle(e.Bortle); classes != "" {
		of += ", " + classes
	}
	return fmt.Sprintf("the read noise of %.2g e- adds %s to the noise of this sky (%s)", e.ReadNoise.V, percent(e.ShareNow.V), of)
}

func shortWords(e *plan.Exposure) string {
	return fmt.Sprintf("read noise adds %s at %s", percent(e.ReadNoiseShare), roughTime(e.Shortest.V))
}

// gapWords speak of gaps when they take more than a tenth of the time.
func gapWords(e *plan.Exposure) string {
	if share := e.Gap.V / (e.Gap.V + e.Current); e.Gap.OK() && share > 0.1 {
		return fmt.Sprintf("; the %s between subs take %s of the time", roughTime(e.Gap.V), percent(share))
	}
	return ""
}

func starWords(e *plan.Exposure) string {
	switch {
	case !e.Saturating.OK():
		return ""
	case e.SaturatedNow.OK() && e.SaturatedNow.V > e.SaturatedShare && e.Saturating.V < e.Current:
		return fmt.Sprintf("; %s of the stars saturate, so add some subs of %s if their colour matters", percent(e.SaturatedNow.V), setTime(plan.RoundDown(e.Saturating.V)))
	case e.Saturating.V < 2*math.Max(e.To, e.Current):
		return fmt.Sprintf("; beyond %s more than %s of the stars saturate", roughTime(e.Saturating.V), percent(e.SaturatedShare))
	}
	return ""
}

func bandwidthWords(e *plan.Exposure) []string {
	if len(e.Others) == 0 {
		return nil
	}
	var parts []string
	for _, o := range e.Others {
		parts = append(parts, fmt.Sprintf("%g nm: %s", o.BandwidthNM, roughTime(o.Shortest)))
	}
	return []string{fmt.Sprintf("%s: with another filter than this one of %g nm the shortest sub would be (%s), as long as the sky's light is continuous.",
		exposureName(e), e.Bandwidth, strings.Join(parts, ", "))}
}

func exposureRange(e plan.Exposure) string {
	if e.To > e.From {
		return fmt.Sprintf("%g to %s", stats.Significant(e.From, 4), setTime(e.To))
	}
	return setTime(e.From)
}
