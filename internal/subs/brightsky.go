package subs

import (
	"math"

	"fitsqa/internal/fact"
)

// Astronomical twilight: the Sun's centre above -18°.
const twilightAlt = -18

// fullTwilightAlt is the Sun's altitude from which twilight outshines any Moon:
// at -12° the zenith is some 19 mag/arcsec² (Patat et al. 2006, from memory),
// what a full Moon makes of it.
const fullTwilightAlt = -12

// brightSky looks for a sky above the baseline.
func (e *evidence) brightSky() Finding {
	if e.offsetMoved() {
		return Finding{}
	}
	verdict, severity := grade(e.sky, e.lim.SkyDoubtful, e.lim.SkyCull)
	limit := limited(crossed(verdict, e.lim.SkyDoubtful, e.lim.SkyCull))
	if v, s := e.gradeBurden(); s > severity && !e.lossLeads() && e.skyLeads() {
		verdict, severity, limit = v, s, e.burdenFact(v)
	}
	if verdict == Keep {
		return Finding{}
	}
	facts := []fact.Fact{fact.Of(SkyLevel, fact.Number("sky_adu", e.SkyADU.V), fact.Number("times", e.sky), e.whose(), fact.Number("baseline_adu", e.base.Sky))}
	if e.skyByNoise {
		facts = []fact.Fact{fact.Of(SkyByNoise, fact.Number("times", e.sky), e.whose())}
	}
	cause := e.skyCause()
	switch {
	case cause == WrongSettings:
		facts = append(facts, fact.Of(WarmthLights, fact.Number("off_c", e.SensorTemp-e.base.SensorTemp), fact.Number("sensor_c", e.base.SensorTemp)))
	case cause == Twilight && e.Sky.SunAlt.OK():
		facts = append(facts, fact.Of(SunAt, fact.Number("sun_deg", e.Sky.SunAlt.V)))
	case cause == Twilight:
		facts = append(facts, fact.Of(SkyRising))
	case cause == BrightSky && e.onlyTwilight():
		facts = append(facts, fact.Of(SunSaidLow, fact.Number("sun_deg", e.Sky.SunAlt.V)))
	case cause == Moonlit:
		facts = append(facts, fact.Of(MoonAt, fact.Number("lit_pct", e.Sky.MoonLitPct.V), fact.Number("moon_deg", e.Sky.MoonAlt.V)))
	}
	return Finding{cause, verdict, severity, append(facts, limit)}
}

// lit is a finding of what hides light with that of the sky which it lights.
func (f Finding) lit(sky Finding) Finding {
	if sky.Verdict == Cull && f.Verdict != Cull {
		f.Verdict, f.Facts = Cull, append(append(f.Facts, fact.Of(And)), sky.Facts...)
	}
	f.Severity = math.Max(f.Severity, sky.Severity)
	return f
}

// Light brings its own noise: of n electrons the variance n (Poisson). Where a level rises
// and the noise stays, the camera's offset moved; in short and narrow-band subs by more
// than the whole sky.
const (
	ownNoise  = 0.3 // of the rise, the least that it adds to the variance if it is light
	offsetFar = 5   // times the baseline's variance in e-: no offset moves so far
)

// offsetMoved tells that what the level has above the baseline's is no light.
func (e *evidence) offsetMoved() bool {
	g := e.ElectronsPerADU
	rise, was := g*(e.SkyADU.V-e.base.Sky), square(g*e.base.RandomNoise)
	grew := square(g*e.RandomNoise.V) - was
	sure := 2 * 2 * e.RandomNoise.Err * e.RandomNoise.V * g * g // two standard errors of the variance; NaN where steps hide it
	return !e.skyByNoise && rise < offsetFar*was && grew+sure < ownNoise*rise
}

// Twilight where the site is unknown: the sky goes up steeply and does not
// come down again. From -18° to -12° it gains two magnitudes or more in about
// half an hour, faster than any moonrise.
const twilightSlope = 1.0 // in ln(sky) an hour

// onlyTwilightRise is the sky, times the baseline, that at the edge of the night and before
// undimmed stars nothing else reaches: more than a full Moon makes of a dark sky.
const onlyTwilightRise = 30

// onlyTwilight tells that the sky is what only twilight makes it, where clock and site
// say that the Sun was far down.
func (e *evidence) onlyTwilight() bool {
	return e.sky > onlyTwilightRise && e.Sky.SunAlt.V < twilightAlt && e.starsUndimmed() && e.edgeOfNight()
}

// twilightStep is the largest share of the whole rise that one sub may bring
// where there are four or more: a lamp comes on at once.
const twilightStep = 0.6
