package subs

import (
	"fmt"
	"math"
)

// What turns a loss of transparency from haze into cloud. Haze is even and
// steady; cloud is patchy, changes within minutes and is lit from below.
const (
	cloudSkyRise   = 1.15 // sky, times the baseline, that Sun and Moon do not explain
	cloudPatchy    = 0.5  // of the doubtful limit on unevenness
	cloudUnsteady  = 0.05 // rms change of transparency from sub to sub
	cloudThickness = 0.45 // transparency under which even and steady loss is told as cloud, unless the whole night is like that
	allAlike       = 0.85 // of a night's best transparency that all of it has, where haze is even
)

// light is what speaks against a sub's light: what was lost of it, what the sky
// added, and noise that neither explains. A sky that a cloud lights is the
// cloud's, with its verdict.
func (e *evidence) light() []finding {
	if e.Field == nil {
		return nil
	}
	weather, sky := e.weather(), e.brightSky()
	if weather.cause == Cloud && sky.cause == BrightSky {
		if sky.verdict == Cull && weather.verdict != Cull {
			weather.verdict, weather.words = Cull, weather.words+"; "+sky.words
		}
		weather.severity, sky = math.Max(weather.severity, sky.severity), finding{}
	}
	return []finding{weather, sky, e.noisy()}
}

// weather looks for cloud, haze and dew.
func (e *evidence) weather() finding {
	verdict, severity, limit := e.gradeLoss(1)
	patchy, patchiness := e.gradePatches()
	if verdict == Keep && patchy == Keep {
		return e.lowTarget()
	}
	if patchy == Cull && verdict != Cull || verdict == Keep {
		return finding{Cloud, patchy, patchiness, fmt.Sprintf("transparency uneven over the field by %.1f %% or more; limit %g", e.unevenness, crossed(patchy, e.lim.UnevennessDoubtful, e.lim.UnevennessCull))}
	}
	words := fmt.Sprintf("transparency %.2f of clear", e.Transparency.Ratio.V)
	if seen := e.hiddenByCloud(); seen < 1 {
		verdict, severity, limit = e.gradeLoss(seen)
		words += fmt.Sprintf(" where stars are seen, and those are %.2f of the expected", e.stars)
	}
	cause, how := e.weatherKind()
	if cause == Haze && verdict == Cull {
		// Even haze makes a sub lighter, all of it alike: a weighted stack takes it for
		// what it is worth.
		verdict = Doubtful
		how += ", which its weight allows for"
	}
	return finding{cause, verdict, math.Max(severity, patchiness), words + how + limit}
}

// gradeLoss holds lost light against its limits where stars show a share of the
// field, and words the one that it crosses.
func (e *evidence) gradeLoss(seen float64) (Verdict, float64, string) {
	left := e.sureTransparency() * seen
	verdict, severity := gradeLow(left, e.lim.TransparencyDoubtful, e.lim.TransparencyCull)
	words := fmt.Sprintf("; limit %g", crossed(verdict, e.lim.TransparencyDoubtful, e.lim.TransparencyCull))
	if !e.lossLeads() {
		return verdict, severity, words
	}
	hidden := *e
	hidden.burden /= seen * seen
	if v, s := hidden.gradeBurden(); s > severity {
		return v, s, hidden.burdenWords(v)
	}
	return verdict, severity, words
}

// gradePatches holds the unevenness against its limits, where light is lost at
// all: what is uneven without it is the detection.
func (e *evidence) gradePatches() (Verdict, float64) {
	if e.covered > e.lim.CoveredDoubtful {
		return Keep, 0
	}
	if e.transparency >= lossShows && !(e.stars < 1-lossShows/10) {
		return Keep, 0
	}
	return grade(e.unevenness, e.lim.UnevennessDoubtful, e.lim.UnevennessCull)
}

// weatherKind is what took the light, and what tells so.
func (e *evidence) weatherKind() (Cause, string) {
	switch {
	case e.unexplainedSky():
		return Cloud, fmt.Sprintf(", sky %.2f times %s", e.sky, e.whose())
	case e.unevenness > e.lim.UnevennessDoubtful:
		return Cloud, fmt.Sprintf(", uneven by %.1f %% or more", e.unevenness)
	case e.dewing(): // it settles a little unevenly too
		return Dewed, ", falling steadily under an unchanged sky: dew on the optics, or a thickening haze"
	case e.unevenness > cloudPatchy*e.lim.UnevennessDoubtful:
		return Cloud, fmt.Sprintf(", uneven by %.1f %% or more", e.unevenness)
	case e.unsteadiness() > cloudUnsteady:
		return Cloud, ", changing from sub to sub"
	case e.transparency < cloudThickness && !e.allNight():
		return Cloud, ""
	}
	return Haze, ", evenly"
}

// allNight tells that the sub's whole night lost as much, beside another one that was
// clear: by itself it would look clear, and is worth as much here as there.
func (e *evidence) allNight() bool {
	best := 0.0
	for _, o := range e.mates {
		if o.Transparency.Ratio.OK() {
			best = math.Max(best, o.transparency)
		}
	}
	return len(e.mates) >= MinGroup && best < cloudThickness && e.transparency > allAlike*best
}

// hiddenByCloud is the share of the transparency that holds for the whole field.
// Thick parts of a cloud hide their stars, and the ratio is then that of its
// gaps; fewer stars than that ratio lets expect, by more than two standard
// errors of the count, tell so. Counts go as the 0.8th power of the light.
func (e *evidence) hiddenByCloud() float64 {
	share := e.stars * (1 + 2/math.Sqrt(float64(max(e.Field.Count, 1))))
	if !(share < 1) {
		return 1
	}
	return math.Pow(share, 1/countSlope)
}

// lowTarget is a sub whose light the air itself took: no cloud, yet worth a
// doubt where so little is left that a clear sub would be culled for it.
func (e *evidence) lowTarget() finding {
	t := e.Transparency.Ratio
	if sure := t.V + 2*math.Sqrt(square(t.Err)); !(sure < e.lim.TransparencyCull) {
		return finding{}
	}
	return finding{Haze, Doubtful, 1, fmt.Sprintf("transparency %.2f of clear, which airmass %.1f explains; limit %g",
		t.V, e.Sky.Airmass.V, e.lim.TransparencyCull)}
}

// unsteadiness is the rms change of the transparency between this sub and its
// neighbours on either side, one step away each.
func (e *evidence) unsteadiness() float64 {
	var before, after *evidence
	for _, o := range e.around() {
		if !o.Transparency.Ratio.OK() {
			continue
		}
		if o.Start.Before(e.Start) {
			before = o
		} else if after == nil {
			after = o
		}
	}
	sum, n := 0.0, 0.0
	for _, o := range []*evidence{before, after} {
		if o != nil {
			d := o.transparency - e.transparency
			sum += d*d - square(e.Transparency.Ratio.Err) - square(o.Transparency.Ratio.Err)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(math.Max(0, sum/n))
}

// square of a standard error; an unknown one counts as none.
func square(err float64) float64 {
	if math.IsNaN(err) {
		return 0
	}
	return err * err
}

// cloudAround tells whether a neighbour was seen through cloud or haze.
func (e *evidence) cloudAround() bool {
	for _, o := range e.around() {
		if o.weather().cause != "" {
			return true
		}
	}
	return false
}

// unexplainedSky tells whether the sky is up by more than Sun and Moon can do.
func (e *evidence) unexplainedSky() bool {
	return e.sky > cloudSkyRise && e.skyCause() == BrightSky
}

// crossed is the limit that a verdict crossed.
func crossed(v Verdict, doubtful, cull float64) float64 {
	if v == Cull {
		return cull
	}
	return doubtful
}

// whose baseline it is, in words.
func (e *evidence) whose() string {
	if e.Filter == "" {
		return "the group's"
	}
	return "the filter's"
}
