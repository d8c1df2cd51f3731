package say

import (
	"fmt"
	"math"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
)

// next is what to do differently in the next night: what goals lack, and
// exposures that are not near their best.
func next(r *night.Result) []string {
	if r.Plan == nil || len(r.Subs) == 0 {
		return nil
	}
	var texts []string
	for _, g := range r.Plan.Goals {
		texts = append(texts, goal(g))
	}
	for i := range r.Plan.Standings {
		if text := frames.Printable(standing(&r.Plan.Standings[i])); text != "" {
			texts = append(texts, text)
		}
	}
	if len(r.Plan.Goals) == 0 {
		texts = append(texts, "No goals are set (fitsqa settings shows how): with them this says what is missing, and fitsqa ahead plans it.")
	}
	texts = append(texts, exposures(r.Plan.Exposures)...)
	return append(texts, laws(r)...)
}

func goal(g plan.Progress) string {
	name := frames.Printable(string(g.Target+" "+g.Filter)) + ": "
	switch {
	case !g.NeededTotal.OK():
		return name + "the goal cannot be followed: " + Fact(g.NeededTotal.Why) + "."
	case math.IsNaN(g.Earlier):
		return name + "hours of earlier nights unknown, and so what is left of the goal."
	case g.Done:
		return name + "the goal is reached."
	}
	text := fmt.Sprintf("%s%s of clear sky to go", name, duration(g.StillNeeded.V*3600))
	if g.NeverUp {
		return text + ", and it never rises here."
	}
	if g.NotNow {
		return text + ", and it is not up in the dark at this time of the year."
	}
	if g.Nights.OK() && g.Nights.V < 50 {
		text += ", " + nightsLike(g.Nights.V)
	}
	return text + "."
}

// exposures names those that are not near their best, and the others in one line.
func exposures(all []plan.Exposure) []string {
	targets := map[names.Name]bool{}
	for _, e := range all {
		targets[e.Target] = true
	}
	var texts, fine []string
	said := map[string]bool{}
	for _, e := range all {
		if e.Minor {
			continue
		}
		name := frames.Printable(string(e.Filter))
		if name == "" {
			name = "no filter"
		}
		name = strings.TrimSpace(name + " " + frames.Printable(e.Apart))
		if len(targets) > 1 {
			name = strings.TrimSpace(targetName(e.Target) + " " + name)
		}
		now := unit(rough(e.Current), "s")
		switch e.Advice() {
		case plan.Longer:
			texts = append(texts, fmt.Sprintf("%s: %s instead of %s give %s more signal to noise in the same time: %s.", name, exposureRange(e), now, percent(e.Gain), why(e)))
		case plan.Shorter, plan.ShorterWould:
			texts = append(texts, fmt.Sprintf("%s: %s do as well as %s, and a spoiled sub costs less.", name, exposureRange(e), now))
		case plan.Stay:
			if said[name+now] {
				continue
			}
			said[name+now] = true
			text := name + " " + now
			switch {
			case e.Best.OK() && e.To >= e.Best.V && e.Best.V > 1.25*e.Current:
				text += fmt.Sprintf(" (some %s hardly better)", unit(rough(e.Best.V), "s"))
			case e.To > 1.01*e.Current:
				text += fmt.Sprintf(" (up to %s as good)", unit(rough(e.To), "s"))
			}
			fine = append(fine, text)
		}
	}
	if len(fine) > 0 && len(fine) < 8 {
		texts = append(texts, "Exposures to keep: "+list(fine)+".")
	}
	return texts
}

// why longer subs gain: what takes more of the present ones.
func why(e plan.Exposure) string {
	gap := e.Gap.V / (e.Gap.V + e.Current)
	if e.Gap.OK() && gap > 2*e.ShareNow.V {
		return fmt.Sprintf("the %s between subs take %s of it", unit(plain(e.Gap.V), "s"), percent(gap))
	}
	return fmt.Sprintf("read noise adds %s to the noise of the sky", unit(rough(100*e.ShareNow.V), "%"))
}
