package report

import (
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/night"
	"fitsqa/internal/plan"
)

// skyTexts tell how bright the sky of each group was and what the air took from
// each filter's light. What holds for several is told once.
func skyTexts(r *night.Result) []string {
	var shared shared
	if r.Plan != nil {
		for _, e := range r.Plan.Exposures {
			shared.add(e.Group, brightnessWords(e))
		}
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

// shared gathers the names that words are true of, in the order of the words.
type shared []struct {
	words string
	names []string
}

func (s *shared) add(name, words string) {
	for i, have := range *s {
		if have.words == words {
			if !slices.Contains(have.names, name) {
				(*s)[i].names = append(have.names, name)
			}
			return
		}
	}
	*s = append(*s, struct {
		words string
		names []string
	}{words, []string{name}})
}

func (s shared) texts() []string {
	var texts []string
	for _, one := range s {
		texts = append(texts, strings.Join(one.names, ", ")+": "+one.words)
	}
	return texts
}

// brightnessWords are the sky's brightness per pixel and per square arcsecond.
func brightnessWords(e plan.Exposure) string {
	if !e.Sky.OK() {
		return e.Sky.Why
	}
	text := "sky " + significant(e.Sky.V, 3) + " e-/s per px"
	if !e.SkyArcsec.OK() {
		return text + "; per square arcsecond it cannot be told: " + e.SkyArcsec.Why
	}
	text += ", " + significant(e.SkyArcsec.V, 3) + " e-/s per square arcsecond"
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
