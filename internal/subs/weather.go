package subs

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
)

// What turns a loss of transparency from haze into cloud. Haze is even and
// steady; cloud is patchy, changes within minutes and is lit from below.
const (
	cloudSkyRise   = 1.15 // sky, times the baseline, that Sun and Moon do not explain
	cloudPatchy    = 0.5  // of the doubtful limit on unevenness
	cloudUnsteady  = 0.05 // rms change of transparency from sub to sub
	cloudThickness = 0.45 // transparency under which even and steady loss is called cloud, unless the whole night is like that
	fewerShow      = 0.9  // of the stars to be expected, under which fewer tell of lost light: by less, what is expected is off
	allAlike       = 0.85 // of a night's best transparency that all of it has, where haze is even
)

// weather looks for cloud, haze and dew, and for what takes light as these do but stands
// before the telescope.
func (e *evidence) weather() Finding {
	verdict, severity, limit := e.gradeLoss(1)
	patchy, patchiness := e.gradePatches()
	if verdict == Keep && patchy == Keep {
		return e.lowTarget()
	}
	if patchy == Cull && verdict != Cull || verdict == Keep {
		return e.uneven(patchy, patchiness)
	}
	facts, seen := []fact.Fact{e.transparent()}, e.hiddenByCloud()
	if seen < 1 {
		verdict, severity, limit = e.gradeLoss(seen)
		facts = append(facts, fact.Of(StarsHidden, fact.Number("of_expected", e.stars)))
	}
	cause, how := e.weatherKind()
	facts = append(facts, how...)
	if (cause == Haze || cause == Obstructed && patchy == Keep) && verdict == Cull && (e.allNight() || !e.heavy(seen)) {
		// Even haze makes a sub lighter, all of it alike: half the light gone spoils
		// nothing by itself.
		verdict = Doubtful
		facts = append(facts, fact.Of(WeightAllows))
	}
	return Finding{cause, verdict, math.Max(severity, patchiness), append(facts, limit)}
}

// uneven is the finding of light that is too uneven, whatever is left of it.
func (e *evidence) uneven(verdict Verdict, severity float64) Finding {
	cause, facts := Cloud, []fact.Fact{fact.Of(Uneven, fact.Number("uneven_pct", e.unevenness))}
	if brighter(e.Sub) {
		cause, facts = WrongSettings, append(facts, fact.Of(BrighterInParts))
	} else if kind, how := e.weatherKind(); kind == Dewed || kind == Obstructed {
		cause, facts = kind, append(facts, how...)
	}
	return Finding{cause, verdict, severity, append(facts, limited(crossed(verdict, e.lim.UnevennessDoubtful, e.lim.UnevennessCull)))}
}

// transparent is the fact of a sub's transparency.
func (e *evidence) transparent() fact.Fact {
	return fact.Of(Transparent, fact.Number("transparency", e.Transparency.Ratio.V))
}

// gradeLoss holds lost light against its limits where stars show a share of the
// field, and names the one that it crosses.
func (e *evidence) gradeLoss(seen float64) (Verdict, float64, fact.Fact) {
	left := e.sureTransparency() * seen
	verdict, severity := gradeLow(left, e.lim.TransparencyDoubtful, e.lim.TransparencyCull)
	limit := limited(crossed(verdict, e.lim.TransparencyDoubtful, e.lim.TransparencyCull))
	if !e.lossLeads() {
		return verdict, severity, limit
	}
	hidden := e.hiding(seen)
	if v, s := hidden.gradeBurden(); s > severity {
		return v, s, hidden.burdenFact(v)
	}
	return verdict, severity, limit
}

// hiding is the same evidence where stars show only a share of the field.
func (e *evidence) hiding(seen float64) *evidence {
	hidden := *e
	hidden.burden /= seen * seen
	return &hidden
}

// heavy tells whether a sub takes more than it gives for the light that it lost.
func (e *evidence) heavy(seen float64) bool {
	verdict, _ := e.hiding(seen).gradeBurden()
	return verdict == Cull && e.lossLeads()
}

// brighterThanClear is the transparency beyond which an uneven sub was without its filter before
// a part of it: how zero points scatter makes as little of it as of a loss (see lossShows).
const brighterThanClear = 1.1

func brighter(s *Sub) bool { return s.Transparency.Ratio.Surely() > brighterThanClear }

// gradePatches holds the unevenness against its limits, where light is lost at
// all, or won: what is uneven without it is the detection.
func (e *evidence) gradePatches() (Verdict, float64) {
	if e.covered > e.lim.CoveredDoubtful {
		return Keep, 0
	}
	if e.transparency >= lossShows && !brighter(e.Sub) && (!(e.stars < fewerShow) || e.byChanceFew(e.stars)) {
		return Keep, 0
	}
	return grade(e.unevenness, e.lim.UnevennessDoubtful, e.lim.UnevennessCull)
}

// weatherKind is what took the light, and what tells so.
func (e *evidence) weatherKind() (Cause, []fact.Fact) {
	uneven := []fact.Fact{fact.Of(UnevenToo, fact.Number("uneven_pct", e.unevenness))}
	switch {
	case e.shaded():
		return Obstructed, []fact.Fact{fact.Of(SkyDimmed)}
	case (e.transparency < cloudThickness || e.unevenness > e.lim.UnevennessDoubtful) && e.coverAround():
		return Obstructed, []fact.Fact{fact.Of(BesideCovered)}
	case e.unexplainedSky():
		return Cloud, []fact.Fact{fact.Of(SkyLit, fact.Number("times", e.sky), e.whose())}
	case e.patchy() && !e.dewing():
		return Cloud, uneven
	case e.dewing(), e.halosShow(): // it settles a little unevenly too
		return Dewed, e.fallFacts()
	case e.unevenness > cloudPatchy*e.lim.UnevennessDoubtful:
		return Cloud, uneven
	case e.unsteadiness() > cloudUnsteady, e.comesAndGoes():
		return Cloud, []fact.Fact{fact.Of(Unsteady)}
	case e.transparency < cloudThickness && !e.allNight():
		return Cloud, nil
	}
	return Haze, []fact.Fact{fact.Of(Evenly)}
}

// allNight tells that the sub's whole night lost about as much, beside another one that
// was clear: by itself it would look clear, and is worth as much here as there.
func (e *evidence) allNight() bool {
	best := 0.0
	for _, o := range e.mates {
		if o.Transparency.Ratio.OK() {
			best = math.Max(best, o.transparency)
		}
	}
	return len(e.mates) >= minGroup && e.transparency > allAlike*best
}

// hiddenByCloud is the share of the transparency that holds for the whole field.
// Thick parts of a cloud hide their stars, and the ratio is then that of its
// gaps; fewer stars than that ratio lets expect, by more than two standard
// errors of the count, tell so. Counts go as the 0.8th power of the light.
func (e *evidence) hiddenByCloud() float64 {
	if e.base.Stars < dozens {
		return 1 // each of a handful is looked at
	}
	share := e.stars * (1 + 2/math.Sqrt(float64(max(e.Field.Count, 1))))
	if !(share < 1) {
		return 1
	}
	return math.Pow(share, 1/countSlope)
}

// lowTarget is a sub whose light the air itself took: no cloud, yet worth a
// doubt where so little is left that a clear sub would be culled for it.
func (e *evidence) lowTarget() Finding {
	t := e.Transparency.Ratio
	if sure := t.V + 2*t.KnownErr(); e.covered > e.lim.CoveredDoubtful || !(sure < e.lim.TransparencyCull) { // a cover took it
		return Finding{}
	}
	return Finding{Haze, Doubtful, 1, []fact.Fact{e.transparent(), fact.Of(ByAirmass, fact.Number("airmass", e.Sky.Airmass.V)), limited(e.lim.TransparencyCull)}}
}

// unsteadiness is the rms change of the transparency between this sub and its
// neighbours on either side, one step away each; NaN without any.
func (e *evidence) unsteadiness() float64 {
	var before, after *evidence
	for _, o := range e.around() {
		if math.IsNaN(o.transparency) {
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
	return math.Sqrt(math.Max(0, sum/n))
}

// comesAndGoes tells whether half of the light that a sub lost was there before and is back after
// it, both within half an hour: haze lasts.
func (e *evidence) comesAndGoes() bool {
	before, after := e.lessLost(-1), e.lessLost(1)
	return before != nil && after != nil && after.Start.Sub(before.Start) <= nearbyTime
}

// lessLost is the next sub, in one direction of time, that lost less than half as much light.
func (e *evidence) lessLost(step int) *evidence {
	for o := e.nextLit(step); o != nil; o = o.nextLit(step) {
		if 1-o.transparency < (1-e.transparency)/2 {
			return o
		}
	}
	return nil
}

// cloudAround tells whether a neighbour was seen through cloud or haze: one of those
// nearby, or the next one of known light, since cloud that hides all stars hides those of a
// whole spell.
func (e *evidence) cloudAround() bool {
	return slices.ContainsFunc(e.around(), (*evidence).clouded) || e.nextLit(-1).clouded() || e.nextLit(1).clouded()
}

// coverAround tells whether a sub lies next to one whose field is covered, or with others
// between them that show a part of it covered or whose stars are gone from most of it: what took
// its light grew from there, or shrank to it, and soft edges and a last lit corner leave too
// little to tell by.
func (e *evidence) coverAround() bool { return e.coverNext(-1) || e.coverNext(1) }

func (e *evidence) coverNext(step int) bool {
	for o := e.nextLit(step); o != nil; o = o.nextLit(step) {
		if o.covered > o.lim.CoveredCull {
			return true
		}
		if !(o.Transparency.Covered.V > 0.5) && !(o.covered > o.lim.CoveredDoubtful) {
			return false
		}
	}
	return false
}

// clouded tells whether a sub's own light tells of cloud, haze or dew.
func (e *evidence) clouded() bool {
	if e == nil || e.Field == nil {
		return false
	}
	at := e.Transparency.AtMost
	cause := e.weather().Cause
	return cause != "" && cause != Obstructed || at > 0 && at < e.lim.TransparencyDoubtful && !e.skyHidden()
}

// nextLit is the next sub of known light, in one direction of time, where the subs up to
// it follow each other as neighbours do; nil where there is none.
func (e *evidence) nextLit(step int) *evidence {
	for j := e.place + step; j >= 0 && j < len(e.night); j += step {
		o := e.night[j]
		switch {
		case o.Start.Sub(e.night[j-step].Start).Abs() > nearbyTime:
			return nil
		case o.Transparency.Ratio.OK():
			return o
		}
	}
	return nil
}
