package say

import (
	"fmt"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// worthLess is the share of usable time under which its worth in clear time is
// told and explained.
const worthLess = 0.85

// less tells why the subs that stay are worth less than their time: a brighter sky
// or less light, which need not spoil a single one.
func less(r *night.Result) string {
	if r.Verdicts == nil {
		return ""
	}
	usable, clear := 0.0, 0.0
	for _, g := range r.Verdicts.Groups {
		if g.EquivalentClearSeconds > 0 {
			usable += stats.OrZero(g.UsableSeconds)
			clear += g.EquivalentClearSeconds
		}
	}
	if !(clear < worthLess*usable) {
		return ""
	}
	text := fmt.Sprintf("The %s that stay are worth %s of the best sky", duration(usable), duration(clear))
	brighter, brightest, through := dimmed(r)
	switch {
	case brighter >= 1.2 && through <= 0.9:
		text += fmt.Sprintf(": the sky grew up to %s%s, and down to %s of the light came through", timesAsBright(brighter, brightest), moonUp(brightest), percent(through))
	case brighter >= 1.2:
		text += fmt.Sprintf(": the sky grew up to %s%s", timesAsBright(brighter, brightest), moonUp(brightest))
	case through <= 0.9:
		text += fmt.Sprintf(": down to %s of the light came through", percent(through))
	}
	return text + "."
}

// cloudBeside names the groups whose best may be no clear sky.
func cloudBeside(r *night.Result) string {
	if r.Verdicts == nil {
		return ""
	}
	var of []string
	for _, g := range r.Verdicts.Groups {
		if name := groupName(g); fact.Has(g.Notes, subs.ClearestBesideCloud) && !slices.Contains(of, name) {
			of = append(of, name)
		}
	}
	if len(of) == 0 {
		return ""
	}
	return "Even the clearest subs of " + list(of) + " may be clouded, as the others' next to them are: the clear hours may be too many."
}

// surelyBrighter is how many times what a clear sky's level scatters by from sub to sub, as
// the offset of short or narrow-band subs does, a brighter sky stands out.
const surelyBrighter = 4

// dimmed is how much brighter the sky of usable subs became, where no warm sensor made it, the sub
// of the brightest, and the least share of light that reached them.
func dimmed(r *night.Result) (brighter float64, brightest *night.Sub, through float64) {
	through = 1
	for _, s := range r.Subs {
		if !s.Verdict.Usable() || s.Field == nil {
			continue
		}
		if v := s.Transparency.Ratio; v.OK() {
			through = math.Min(through, v.V)
		}
		g := groupOf(r, s)
		if g == nil || !(g.Baseline.Sky > 0) || !s.SkyADU.OK() || s.Warmed {
			continue
		}
		if ratio := s.SkyADU.V / g.Baseline.Sky; ratio > brighter && ratio > 1+surelyBrighter*g.Baseline.SkyScatter {
			brighter, brightest = ratio, s
		}
	}
	return brighter, brightest, through
}

func moonUp(s *night.Sub) string {
	if alt := s.Sky.MoonAlt; alt.OK() && alt.V > 0 {
		return fmt.Sprintf(" with the Moon at %s", unit(number(alt.V, 0), "°"))
	}
	return ""
}
