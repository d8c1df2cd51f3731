package subs

import "math"

// Line is where the limits of one figure lie for a group, in the figure's own
// unit, for drawing. What a verdict weighs besides (extinction, coherence, what
// costs the stack nothing) no line can show.
type Line struct {
	Figure         string  // its name in the reports
	Doubtful, Cull float64 // NaN where the group has no such limit
}

// Lines are the limits of a group under the night's limits.
func (g *Group) Lines(limits Limits) []Line {
	l := limits.For(g.Target, g.Filter).aimed().against(g.Baseline)
	lines := []Line{
		{"transparency", l.TransparencyDoubtful, l.TransparencyCull},
		{"ellipticity", l.EllipticityDoubtful, l.EllipticityCull},
		{"fwhm_px", g.Baseline.FWHM * l.FWHMDoubtful, g.Baseline.FWHM * l.FWHMCull},
		{"sky_adu", g.Baseline.Sky * l.SkyDoubtful, g.Baseline.Sky * l.SkyCull},
	}
	rate := math.NaN() // e-/s per px over ADU
	for _, s := range g.Subs {
		if r := s.SkyRate.V / s.SkyADU.V; r > 0 && !math.IsInf(r, 0) {
			rate = r
			break
		}
	}
	sky := lines[len(lines)-1]
	return append(lines, Line{"sky_e_per_s", rate * sky.Doubtful, rate * sky.Cull})
}
