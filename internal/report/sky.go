package report

import (
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

// skyTexts tell how bright the sky of each group was and what the air took from
// each filter's light. What holds for several is said once.
func skyTexts(r *night.Result) []string {
	var shared shared
	if r.Plan != nil {
		for _, e := range r.Plan.Exposures {
			shared.add(e.Group, brightnessWords(e))
		}
	}
	if r.Verdicts != nil {
		for _, g := range r.Verdicts.Groups {
			for _, words := range seasonWords(g.Season) {
				shared.add(g.Label, words)
			}
		}
	}
	for _, p := range r.Places {
		shared.add(orNone(p.Target, "(no target)"), placeWords(p))
	}
	several := slices.ContainsFunc(r.Extinctions, func(e night.ExtinctionReport) bool { return e.Night != r.Extinctions[0].Night })
	for _, e := range r.Extinctions {
		name := orNone(e.Target, "(no target)") + " " + orNone(e.Filter, "(no filter)")
		if several && e.K.OK() {
			name += ", night of " + e.Night
		}
		shared.add(name, extinctionWords(e))
	}
	return shared.texts()
}

// seasonWords say how deep a group's stack goes, and set it against other nights. What
// is not known is left out here: the reasons stand in night.json.
func seasonWords(s subs.Season) (texts []string) {
	if s.Limit.OK() {
		texts = append(texts, fmt.Sprintf("the stack reaches stars of %s mag (5 sigma), and %s mag per square arcsecond in 10 by 10 arcsec (3 sigma)",
			decimals(s.Limit.V, 1), decimals(s.Surface.V, 1)))
	}
	if s.ZeroPoint.OK() {
		text := "zero point " + decimals(s.ZeroPoint.V, 2) + " mag (V_T of a star of one unit a second, at airmass 1)"
		if s.Throughput.OK() {
			text += fmt.Sprintf(", %s of the light of this set-up's best night", decimals(s.Throughput.V, 2))
		}
		texts = append(texts, text)
	}
	if s.FWHM.V > 0 && s.BestFWHM.V > 0 {
		texts = append(texts, fmt.Sprintf("FWHM %s″, the season's sharpest quarter has %s″", decimals(s.FWHM.V, 1), decimals(s.BestFWHM.V, 1)))
	}
	if s.Noise.V > 0 && s.BestNoise.V > 0 {
		texts = append(texts, fmt.Sprintf("noise in equal time %s times that of the season's quietest quarter", decimals(math.Sqrt(s.Noise.V/s.BestNoise.V), 2)))
	}
	if s.Share.OK() && s.Best != "" {
		texts = append(texts, fmt.Sprintf("an hour of this night's best sky is %s h of the best night's (%s)", decimals(s.Share.V, 2), s.Best))
	}
	return texts
}

// placeWords say where a target's subs lie.
func placeWords(p night.Place) string {
	if p.Solution == nil {
		return "not found on the sky: " + say.Fact(p.Why)
	}
	w, h := p.Size()
	text := fmt.Sprintf("right ascension %s°, declination %s° (equinox 2000), %s by %s°, position angle %s°, %s arcsec/px",
		decimals(p.RA, 3), decimals(p.Dec, 3), significant(w, 3), significant(h, 3), decimals(p.PositionAngle, 1), significant(p.Scale, 4))
	if p.ScaledByIt > 0 {
		text += " (by which the widths of " + fact.Plural(p.ScaledByIt, "sub") + " are in arcsec)"
	}
	if p.FocalLength.OK() {
		text += ", focal length " + decimals(p.FocalLength.V, 1) + " mm"
	}
	if p.Mirrored {
		text += ", mirrored"
	}
	return text + fmt.Sprintf("; %d of the catalogue's %s, rms %s arcsec", p.Stars, fact.Plural(p.InField, "star"), decimals(p.RMS, 2))
}

func brightnessWords(e plan.Exposure) string {
	if !e.Sky.OK() {
		return say.Fact(e.Sky.Why)
	}
	what := "sky "
	if e.SkyWithDark {
		what = "sky with the dark current, which is not known at the subs' temperature, "
	}
	text := what + significant(e.Sky.V, 3) + " e-/s per px"
	if e.OffsetMoved > 0 {
		text += ", the darks lowered by " + significant(e.OffsetMoved, 3) + " ADU: their offset is above that of bias frames and subs"
	}
	if e.DarkCarried {
		text += ", less a dark current carried from " + decimals(e.DarkCarriedC, 1) + " °C by the doubling every 6 °C that is usual"
	}
	if !e.SkyArcsec.OK() {
		return text + "; per square arcsecond it cannot be told: " + say.Fact(e.SkyArcsec.Why)
	}
	text += ", " + significant(e.SkyArcsec.V, 3) + " e-/s per square arcsecond"
	if e.SkyMag.OK() {
		text += ", " + decimals(e.SkyMag.V, 2) + " mag per square arcsecond"
	}
	if classes := say.Bortle(e.Bortle); classes != "" {
		text += ", " + classes
	}
	return text
}

func extinctionWords(e night.ExtinctionReport) string {
	if !e.K.OK() {
		return "extinction cannot be told: " + say.Fact(e.K.Why)
	}
	return fmt.Sprintf("extinction %s mag per airmass, from %s at airmass %s to %s",
		measured(e.K), fact.Plural(e.K.N, "clear sub"), decimals(e.From, 2), decimals(e.To, 2))
}
