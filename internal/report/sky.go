package report

import (
	"fmt"

	"fitsqa/internal/night"
	"fitsqa/internal/plan"
)

// skyTexts tell how bright the sky of each group was and what the air took from
// each filter's light.
func skyTexts(r *night.Result) []string {
	var texts []string
	if r.Plan != nil {
		for _, e := range r.Plan.Exposures {
			texts = append(texts, e.Group+": "+brightnessWords(e))
		}
	}
	nights := map[string]bool{}
	for _, e := range r.Extinctions {
		nights[e.Night] = true
	}
	for _, e := range r.Extinctions {
		name := orNone(e.Target, "(no target)") + " " + orNone(e.Filter, "(no filter)")
		if len(nights) > 1 && e.Night != "" {
			name += ", night of " + e.Night
		}
		texts = append(texts, name+": "+extinctionWords(e))
	}
	return texts
}

// brightnessWords are the sky's brightness per pixel and per square arcsecond.
func brightnessWords(e plan.Exposure) string {
	if !e.Sky.OK() {
		return "sky brightness is unknown: " + e.Sky.Why
	}
	text := "sky " + measured(e.Sky) + " e-/s per px"
	if !e.SkyArcsec.OK() {
		return text + "; per square arcsecond unknown: " + e.SkyArcsec.Why
	}
	text += ", " + measured(e.SkyArcsec) + " e-/s per square arcsecond"
	if e.SkyMag.OK() {
		text += ", " + decimals(e.SkyMag.V, 2) + " mag per square arcsecond"
	}
	if e.SkyWord != "" {
		text += ", " + e.SkyWord
	}
	return text
}

// extinctionWords are the trend of the transparency with airmass.
func extinctionWords(e night.ExtinctionReport) string {
	if !e.K.OK() {
		return "extinction cannot be told: " + e.K.Why
	}
	return fmt.Sprintf("extinction %s mag per airmass, from %d clear subs at airmass %s to %s",
		measured(e.K), e.K.N, decimals(e.From, 2), decimals(e.To, 2))
}
