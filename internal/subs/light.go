package subs

import (
	"math"

	"fitsqa/internal/fact"
)

// light is what speaks against a sub's light: what was lost of it, what the sky
// added, and noise that neither explains. A sky that a cloud or a cover lights is the
// cloud's or the cover's, with its verdict.
func (e *evidence) light() []Finding {
	weather, sky := e.weather(), e.brightSky()
	var other Finding
	if weather.Cause == Dewed && e.orCloud() {
		other = weather
		other.Cause = Cloud
	}
	switch {
	case e.coverLights(sky):
		sky = Finding{}
	case weather.Cause == Cloud && sky.Cause == BrightSky:
		weather, sky = weather.lit(sky), Finding{}
	}
	return []Finding{weather, other, sky, e.noisy()}
}

// noisy looks for a burden that neither lost light, a brighter sky nor a cover explains:
// the camera's own noise, of a warm sensor above all.
func (e *evidence) noisy() Finding {
	verdict, severity := e.gradeBurden()
	if verdict == Keep || e.lossLeads() || e.skyLeads() || e.covered > e.lim.CoveredDoubtful || !(e.RandomNoise.V > noiseSure*e.base.RandomNoise) {
		return Finding{}
	}
	facts := []fact.Fact{fact.Of(NoiseAlone, fact.Number("times", e.RandomNoise.V/e.base.RandomNoise), e.whose())}
	if off := e.SensorTemp - e.base.SensorTemp; math.Abs(off) > e.lim.TemperatureDoubtful {
		facts = append(facts, fact.Of(SensorOffGroup, fact.Number("off_c", off), fact.Number("sensor_c", e.base.SensorTemp)))
	}
	return Finding{WrongSettings, verdict, severity, append(facts, e.burdenFact(verdict))}
}
