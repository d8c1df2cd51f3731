package say

import (
	"fmt"
	"math"

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
	if len(r.Plan.Goals) == 0 {
		texts = append(texts, "No goals are set; with them this says what is missing, and fitsqa ahead plans it (fitsqa settings shows how).")
	}
	texts = append(texts, exposures(r.Plan.Exposures)...)
	return append(texts, laws(r)...)
}

func goal(g plan.Progress) string {
	name := frames.Printable(string(g.Target+" "+g.Filter)) + ": "
	switch {
	case !g.NeededTotal.OK():
		return name + "the goal cannot be followed: " + g.NeededTotal.Why + "."
	case math.IsNaN(g.Earlier):
		return name + "hours of earlier nights unknown, and so what is left of the goal."
	case g.Done:
		return name + "the goal is reached."
	}
	text := fmt.Sprintf("%s%s of clear sky to go", name, duration(g.StillNeeded.V*3600))
	if g.Nights.OK() && g.Nights.V >= 0.5 && g.Nights.V < 50 {
		text += fmt.Sprintf(", some %s like this", count(int(math.Ceil(g.Nights.V)), "night"))
	}
	return text + "."
}

// exposures names those that are not near their best, and the others in one line.
func exposures(all []plan.Exposure) []string {
	var texts, fine []string
	seen := map[names.Name]bool{}
	for _, e := range all {
		name := frames.Printable(string(e.Filter))
		if name == "" {
			name = "no filter"
		}
		if !e.Shortest.OK() || math.IsNaN(e.From) || !(e.Current > 0) {
			continue
		}
		switch {
		case e.Current < 0.99*e.From:
			texts = append(texts, fmt.Sprintf("%s: %s instead of %s: %s.", name, exposureRange(e), unit(rough(e.Current), "s"), why(e)))
		case e.Current > 1.01*e.To:
			texts = append(texts, fmt.Sprintf("%s: %s do as well as %s, and a spoiled sub costs less.", name, exposureRange(e), unit(rough(e.Current), "s")))
		case !seen[e.Filter]:
			seen[e.Filter] = true
			fine = append(fine, name+" "+unit(rough(e.Current), "s"))
		}
	}
	if len(fine) > 0 && len(fine) < 8 {
		texts = append(texts, "Exposures to keep: "+list(fine)+".")
	}
	return texts
}

func exposureRange(e plan.Exposure) string {
	if e.To > e.From {
		return fmt.Sprintf("%g to %s", e.From, unit(fmt.Sprintf("%g", e.To), "s"))
	}
	return unit(fmt.Sprintf("%g", e.From), "s")
}

// why longer subs gain: what takes more of the present ones.
func why(e plan.Exposure) string {
	gap := e.Gap.V / (e.Gap.V + e.Current)
	if e.Gap.OK() && gap > 2*e.ShareNow.V {
		return fmt.Sprintf("the %s between subs take %s of the time", unit(rough(e.Gap.V), "s"), unit(number(100*gap, 0), "%"))
	}
	return fmt.Sprintf("read noise adds %s to the sky's", unit(rough(100*e.ShareNow.V), "%"))
}
