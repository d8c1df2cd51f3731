package say

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/plan"
)

// Advice is all of a plan in sentences: what goals lack, how long to expose, which
// calibration is missing, then how the night was used.
func Advice(p *plan.Plan) []string {
	if p == nil {
		return nil
	}
	var w []string
	for i := range p.Goals {
		w = append(w, Goal(&p.Goals[i]))
	}
	for i := range p.Standings {
		if text := standing(&p.Standings[i]); text != "" {
			w = append(w, text)
		}
	}
	w = append(w, exposureWords(p.Exposures)...)
	for i := range p.Shopping {
		w = append(w, Shopping(&p.Shopping[i]))
	}
	w = once(append(w, nightWords(p.Nights)...))
	for i := range w {
		w[i] = Typeset(frames.Printable(w[i]))
	}
	return w
}

// once drops sentences that were said before: groups may share them.
func once(all []string) []string {
	said := map[string]bool{}
	return slices.DeleteFunc(all, func(s string) bool {
		again := said[s]
		said[s] = true
		return again
	})
}

// Goal is how far a goal has come, in full.
func Goal(g *plan.Progress) string {
	name := fmt.Sprintf("%s, %s: ", g.Target, g.Filter)
	if !g.NeededTotal.OK() {
		return name + "the goal cannot be followed: " + Fact(g.NeededTotal.Why) + "."
	}
	if math.IsNaN(g.Earlier) {
		return name + fmt.Sprintf("%s clear these nights; hours of earlier nights unknown, and so what is left of the %s you want.", duration(g.Tonight.Or(0)*3600), duration(g.Hours*3600))
	}
	clear := (g.Tonight.Or(0) + g.Earlier) * 3600
	switch {
	case g.Goal.SNR > 0:
		name += fmt.Sprintf("signal to noise %.3g of %.3g after %s of clear sky", g.SNR.V, g.Goal.SNR, duration(clear))
	case clear == 0:
		name += fmt.Sprintf("nothing yet of the %s you want", duration(g.Hours*3600))
	default:
		name += fmt.Sprintf("%s clear of the %s you want", duration(clear), duration(g.Hours*3600))
	}
	if g.Done {
		return name + ": the goal is reached; give the time to something else."
	}
	if clear > 0 {
		name += "; " + duration(g.StillNeeded.V*3600) + " to go"
	}
	switch {
	case g.NeverUp:
		name += "; it never rises here"
	case g.NotNow:
		name += "; it is not up in the dark at this time of the year"
	case g.Nights.OK():
		name += ", " + nightsLike(g.Nights.V)
	}
	return name + "."
}

func nightsLike(n float64) string {
	switch {
	case n < 0.75:
		return "less than one more night like this"
	case n < 1.25:
		return "about one more night like this"
	case n < 9.75:
		return fmt.Sprintf("about %s more nights like this", strings.TrimSuffix(fmt.Sprintf("%.1f", math.Round(2*n)/2), ".0"))
	}
	return fmt.Sprintf("about %.0f more nights like this", n)
}

// nightWords are one sentence a night, and the reason why the use of dark hours is
// unknown once for all.
func nightWords(all []plan.Night) []string {
	var w []string
	unknown := map[string]bool{}
	for i := range all {
		n := &all[i]
		w = append(w, Night(n, len(all) > 1))
		if !n.DarkShare.OK() {
			unknown[Fact(n.DarkShare.Why)] = true
		}
	}
	for _, why := range slices.Sorted(maps.Keys(unknown)) {
		w = append(w, "The use of the dark hours is unknown: "+why+".")
	}
	return w
}

// Night is how a night was used and, where it is one of several, what it brought.
func Night(n *plan.Night, one bool) string {
	name := "Night of " + n.Date
	if n.Camera != "" {
		name += ", " + string(n.Camera)
	}
	var parts []string
	if n.DarkShare.OK() {
		parts = append(parts, fmt.Sprintf("%s of the %s of darkness went into subs (%s)",
			duration(n.ShotInDark), duration(3600*n.DarkHours.V), percent(n.DarkShare.V)))
	} else {
		parts = append(parts, duration(n.Shot)+" shot")
	}
	if twilight := n.Shot - n.ShotInDark; n.DarkShare.OK() && twilight >= 60 {
		parts = append(parts, duration(twilight)+" of subs fell outside it")
	}
	if n.UnusedBefore >= 60 {
		parts = append(parts, duration(n.UnusedBefore)+" passed before the first sub")
	}
	if n.UnusedAfter >= 60 {
		parts = append(parts, duration(n.UnusedAfter)+" were left after the last")
	}
	if n.Between >= 60 {
		parts = append(parts, duration(n.Between)+" went by between subs")
	}
	if p := pauseWords(n); p != "" {
		parts = append(parts, p)
	}
	if one {
		parts = append([]string{yieldWords(n)}, parts...)
	}
	return name + ": " + strings.Join(parts, "; ") + "."
}

func yieldWords(n *plan.Night) string {
	var clear, untold []string
	for _, y := range n.Yields {
		name := strings.TrimSpace(targetName(y.Target) + " " + or(y.Filter, "no filter"))
		if math.IsNaN(y.Clear) {
			untold = append(untold, name)
			continue
		}
		clear = append(clear, name+" "+duration(y.Clear))
	}
	var parts []string
	if len(clear) > 0 {
		parts = append(parts, strings.Join(clear, ", ")+" of clear sky")
	}
	if len(untold) > 0 {
		parts = append(parts, "clear sky unknown for "+list(untold))
	}
	return strings.Join(parts, ", ")
}

// pauseWords sum pauses up by reason, in the order in which reasons first occur.
func pauseWords(n *plan.Night) string {
	sum := map[fact.Code]float64{}
	var order []fact.Code
	for _, p := range n.Pauses {
		if sum[p.Reason] == 0 {
			order = append(order, p.Reason)
		}
		sum[p.Reason] += p.Seconds()
	}
	if len(order) == 0 {
		return ""
	}
	parts := make([]string, len(order))
	for i, r := range order {
		parts[i] = duration(sum[r]) + pauseReason(r)
	}
	return "pauses: " + strings.Join(parts, ", ")
}

func pauseReason(r fact.Code) string {
	switch r {
	case "":
		return " without a reason that the subs tell"
	case plan.FocusMoved:
		return " focusing"
	}
	return " at a " + Fact(fact.Of(r))
}

// standing is the clear time of a target over all nights; "" where these nights are all
// there is.
func standing(s *plan.Standing) string {
	if !s.Earlier {
		return ""
	}
	var parts []string
	for _, h := range s.Hours {
		parts = append(parts, or(h.Filter, "no filter")+" "+duration(h.Hours*3600))
	}
	return or(s.Target, "Unnamed target") + ": with earlier nights " + strings.Join(parts, ", ") + " of clear sky."
}
