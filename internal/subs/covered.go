package subs

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// What hides a part of the field from all of the sky: a tree, a roof, frost on
// the optics. Cloud can hide a part too, but then it dims the rest as well, or
// lights up the sky; what is covered has no light at all, and the rest all of it.
const (
	coveredLit    = 0.8 // transparency of the rest, at least
	longerThanAll = 0.1 // ellipticity beyond that of the group's roundest quarter
)

// coveredShare is the share of the field that surely has no light, where it is no
// cloud that hides it.
func (e *evidence) coveredShare() float64 {
	c := e.Transparency.Covered
	if !c.OK() {
		return 0
	}
	if c.N > 0 && (e.fwhm > e.lim.FWHMDoubtful || e.trail > e.lim.EllipticityDoubtful && !(e.trail < e.base.Roundest+longerThanAll)) {
		return 0 // stars that are smeared out, beyond the group's, are missing for that
	}
	lit := weatherTransparency(e.Sub, e.base.Airmass) / (1 - math.Min(c.V, 0.95))
	lit *= 1 + 2*e.Transparency.Ratio.KnownErr()/e.Transparency.Ratio.V // as far as is sure
	if lit < coveredLit && !e.skyHidden() || e.unexplainedSky() && !e.coverLit() {
		return 0
	}
	return math.Max(0, c.V-c.KnownErr())
}

// A cloud moves on by 0.1 to 0.3 degrees a second (10 m/s at 2 to 6 km; from memory): what
// brightens one part of a field for a whole exposure, and nothing of another, is none, unless
// the field is too wide to be crossed in that time.
const (
	cloudCrosses = 0.1 // degrees a second, at the least
	besideCover  = 0.1 // quantile of the parts, by their sky, that no cover brightens
)

// coverLit tells whether it is the cover that brightens a sub, a roof or leaves under a street
// lamp, and no cloud: beside it the sky is as dark as in the clear sub nearby. Where it seems
// darker, parts scatter by too much to tell.
func (e *evidence) coverLit() bool {
	o, across := e.clearWithin(sessionGap), float64(max(e.Field.Width, e.Field.Height))*e.PixelScale/3600
	if o == nil || !(cloudCrosses*e.Exposure > across) {
		return false
	}
	times, _ := e.skyBeside(o)
	rises := slices.DeleteFunc(times, func(r float64) bool { return !(r > 0) })
	beside := stats.Quantile(rises, besideCover)
	return beside > 1/cloudSkyRise && beside < cloudSkyRise
}

// skyHidden tells whether so much of the sky is gone as no cloud hides: then what stars
// are left shine through the gaps of a tree, and tell nothing of the weather.
func (e *evidence) skyHidden() bool { return e.sky < coverSky && !e.skyByNoise }

// unevenLight is the unevenness of the light that gets through. A share c without any
// is part of a sub's unevenness with c (1 - c) of its square; where that is too little
// to count as covered, or not sure, it is no cloud either.
func unevenLight(t photometry.Transparency, lim Limits) stats.Value {
	u, c := t.Unevenness, t.Covered
	if c.V-c.KnownErr() < lim.CoveredDoubtful {
		u.V = math.Sqrt(math.Max(0, u.V*u.V-1e4*c.V*(1-c.V)))
	}
	return u
}

// obstructed looks for a part of the field without light.
func (e *evidence) obstructed() Finding {
	verdict, severity := grade(e.covered, e.lim.CoveredDoubtful, e.lim.CoveredCull)
	if verdict == Keep {
		return Finding{}
	}
	f := Finding{Obstructed, verdict, severity, []fact.Fact{fact.Of(FieldCovered,
		fact.Number("covered_pct", 100*e.Transparency.Covered.V), fact.Number("limit_pct", 100*crossed(verdict, e.lim.CoveredDoubtful, e.lim.CoveredCull)))}}
	if sky := e.brightSky(); e.coverLights(sky) {
		return f.lit(sky)
	}
	return f
}

// coverLights tells whether a sky that is too bright is so by the light on what covers it.
func (e *evidence) coverLights(sky Finding) bool {
	return sky.Cause == BrightSky && e.covered > e.lim.CoveredDoubtful && e.coverLit()
}
