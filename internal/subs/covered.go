package subs

import (
	"fmt"
	"math"
)

// What hides a part of the field from all of the sky: a tree, a roof, frost on
// the optics. Cloud can hide a part too, but then it dims the rest as well, or
// lights up the sky; what is covered has no light at all, and the rest all of it.
const coveredLit = 0.8 // transparency of the rest, at least

// covered is the share of the field that surely has no light, where it is no
// cloud that hides it.
func (e *evidence) coveredShare() float64 {
	c := e.Transparency.Covered
	if !c.OK() || !(c.V > 0) {
		return 0
	}
	if e.fwhm > e.lim.FWHMDoubtful || e.trail > e.lim.EllipticityDoubtful { // stars that are smeared out are missing for that
		return 0
	}
	lit := weatherTransparency(e.Sub, e.base.Airmass) / (1 - math.Min(c.V, 0.95))
	if lit < coveredLit || e.unexplainedSky() {
		return 0
	}
	return math.Max(0, c.V-math.Sqrt(square(c.Err)))
}

// obstructed looks for a part of the field without light.
func (e *evidence) obstructed() finding {
	verdict, severity := grade(e.covered, e.lim.CoveredDoubtful, e.lim.CoveredCull)
	if verdict == Keep {
		return finding{}
	}
	return finding{Obstructed, verdict, severity, fmt.Sprintf("%.0f %% of the field is without light, the rest is clear: something stands before it, or frost lies on the optics; limit %g %%",
		100*e.Transparency.Covered.V, 100*crossed(verdict, e.lim.CoveredDoubtful, e.lim.CoveredCull))}
}
