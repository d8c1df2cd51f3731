package say

import (
	"fmt"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// worthTelling is the share of the season's best night under which a night's clear time
// is given in hours of that one.
const worthTelling = 0.8

// beside tells what the night's clear hours are in those of the season's best night;
// "" when they are as good.
func beside(r *night.Result) string {
	tonight, season, light := 0.0, 0.0, 1.0
	var nights, filters []names.Name
	for _, g := range groupsOf(r) {
		s := g.Season
		if !(s.Share.V > 0 && s.Share.V < worthTelling) || !(s.Clear.V > 0) || !(g.EquivalentClearSeconds > 0) {
			continue
		}
		tonight, season = tonight+g.EquivalentClearSeconds, season+s.Clear.V
		if s.Light.V > 0 {
			light = min(light, s.Light.V)
		}
		nights, filters = with(nights, names.Name(s.Best)), with(filters, g.Filter)
	}
	if tonight == 0 {
		return ""
	}
	best := "your best night"
	if len(nights) == 1 && nights[0] != "" {
		best += ", " + frames.Printable(string(nights[0]))
	}
	text := fmt.Sprintf("The %s of this night's best sky in %s make the stack of %s of %s", duration(tonight), list(filters), duration(season), best)
	if light < 0.9 {
		text += fmt.Sprintf(": its air and optics passed %s of that night's light", percent(light))
	}
	return text + "."
}

// depth tells how bright the sky was and how deep the stacks go; "" where no field was
// found on the sky. Filters of one target are enough to name unless there are several.
func depth(r *night.Result) string {
	var targets []names.Name
	for _, g := range groupsOf(r) {
		if g.Season.SkyMag.V > 0 || g.Season.Limit.V > 0 {
			targets = with(targets, g.Target)
		}
	}
	var parts []string
	for _, g := range groupsOf(r) {
		var figures []string
		if v := g.Season.SkyMag; v.V > 0 {
			figures = append(figures, "a sky of "+number(v.V, 1)+"\u00a0mag/arcsec²")
		}
		if v := g.Season.Limit; v.V > 0 {
			figures = append(figures, "a stack that reaches stars of "+number(v.V, 1)+"\u00a0mag")
		}
		if len(figures) == 0 {
			continue
		}
		name := list([]names.Name{g.Filter})
		if len(targets) > 1 || name == "" {
			name = strings.TrimSpace(targetName(g.Target) + " " + name)
		}
		parts = append(parts, name+" had "+join(figures))
	}
	if len(parts) == 0 {
		return ""
	}
	return strings.Join(parts, "; ") + "."
}

// softness tells by how much a group's stars are wider than those of the season's
// sharpest quarter; "" where it is not soft beside that.
func softness(g *subs.Group) string {
	s := g.Season
	if !s.SoftNight() {
		return ""
	}
	return fmt.Sprintf(" (FWHM %s″, the season's sharpest quarter has %s″)", number(s.FWHM.V, 1), number(s.BestFWHM.V, 1))
}

func groupsOf(r *night.Result) []*subs.Group {
	if r.Verdicts == nil {
		return nil
	}
	return r.Verdicts.Groups
}

func with(all []names.Name, n names.Name) []names.Name {
	for _, o := range all {
		if o == n {
			return all
		}
	}
	return append(all, n)
}
