package subs

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
)

// Star counts under which a field has no stars: noise alone passes a 5 sigma
// detection less than once a frame (tail 2.9e-7 of at most some million
// independent samples), so that a handful where dozens are normal is nothing.
const (
	strayDetections = 3
	dozens          = 12
)

// counts looks for missing stars that transparency, noise and star size do not
// explain: a cap, a cover, dew, a lost target.
func (e *evidence) counts() []Finding {
	f := e.Field
	if e.Transparency.Ratio.OK() && (e.base.Stars < dozens || e.Spread.N > 0) {
		return nil // the light of a handful, or at known places, tells more than how many were detected
	}
	if lost := e.darkened(); lost != nil {
		return lost
	}
	stray := f.Count <= strayDetections
	if f.Count == 0 || stray && (e.base.Stars >= dozens || e.base.Clear == 0) || (stray || !f.FWHM.OK() && !f.Defocused) && e.starless() {
		return e.noStars()
	}
	share := e.stars
	lit := !e.Transparency.Ratio.OK() && e.unexplainedSky() // a second witness: no chance
	clouded := lit || !e.Transparency.Ratio.OK() && e.cloudAround()
	if clouded { // the noise that would excuse missing stars is the cloud's own
		share = float64(f.Count) / e.base.Stars
	}
	verdict, severity := gradeLow(share, e.lim.StarsDoubtful, e.lim.StarsCull)
	if verdict == Keep || !lit && e.byChanceFew(share) {
		if lost := e.lostField(); lost != nil {
			return lost
		}
		return e.unproven(share)
	}
	limit, stars := crossed(verdict, e.lim.StarsDoubtful, e.lim.StarsCull), fact.Count("stars", f.Count)
	if len(f.Streaks) >= manyStreaks {
		return []Finding{{Trailed, verdict, severity, []fact.Fact{fact.Of(StarsAsStreaks, stars, fact.Count("streaks", len(f.Streaks)), fact.Number("limit", limit))}}}
	}
	few := Finding{FewStars, verdict, severity, []fact.Fact{fact.Of(StarCount, stars, fact.Number("of_expected", share)), limited(limit)}}
	if before := e.beforeStars(few, clouded); before.Cause != "" {
		return []Finding{before, few}
	}
	return []Finding{few}
}

// darkened is what takes the light of a sub in which the stars of its group were sought at
// their places, and are not there.
func (e *evidence) darkened() []Finding {
	verdict, severity := gradeLow(e.Transparency.AtMost, e.lim.TransparencyDoubtful, e.lim.TransparencyCull)
	if !(e.Transparency.AtMost > 0) || verdict == Keep || e.covered > e.lim.CoveredDoubtful {
		return nil
	}
	lost := Finding{Cloud, verdict, severity, []fact.Fact{fact.Of(LightAtMost, fact.Number("transparency", e.Transparency.AtMost)),
		limited(crossed(verdict, e.lim.TransparencyDoubtful, e.lim.TransparencyCull))}}
	if lost.Cause = e.beforeIt(); lost.Cause == Dewed {
		or := lost
		or.Cause = Cloud
		return []Finding{lost, or}
	}
	return []Finding{lost}
}

// beforeIt is what likeliest stands before a sub that surely lost its stars.
func (e *evidence) beforeIt() Cause {
	switch {
	case e.drownedByTwilight():
		return Twilight
	case e.skyHidden():
		return Obstructed
	case !e.unexplainedSky() && e.afterDew():
		return Dewed
	}
	return Cloud
}

// afterDew tells whether the last sub before whose light is known was dewed.
func (e *evidence) afterDew() bool {
	for j := e.place - 1; e.inSession(j); j-- {
		if o := e.night[j]; o.Transparency.Ratio.OK() {
			return o.weather().Cause == Dewed
		}
	}
	return false
}

// beforeStars is what takes the stars of a sub that are too few to tell its light.
func (e *evidence) beforeStars(few Finding, clouded bool) Finding {
	because := func(c Cause, v Verdict, severity float64, why fact.Fact) Finding {
		return Finding{c, v, severity, append(slices.Clone(few.Facts), why)}
	}
	times := fact.Number("times", e.sky)
	switch cause := e.beforeIt(); {
	case e.Transparency.Ratio.OK():
		return Finding{}
	case cause == Twilight:
		return because(cause, few.Verdict, few.Severity+1, fact.Of(InTwilight, times, e.whose()))
	case cause == Obstructed:
		return because(cause, Cull, math.Max(few.Severity, 2), fact.Of(CapOrCover, times, e.whose()))
	case e.coverAround():
		return because(Obstructed, Cull, math.Max(few.Severity, 2), fact.Of(BesideCovered))
	case clouded: // too few are left even to compare them with the other subs'
		return because(cause, Cull, math.Max(few.Severity, 2), fact.Of(TooFewToTie))
	}
	return Finding{}
}

// starless tells whether no sub of the group surely shows a star: none can be compared with
// another, and hardly one has something of a star's shape. A cap was on, or it was overcast
// all night.
func (e *evidence) starless() bool {
	n, shaped := 0, 0
	for _, o := range e.mates {
		if o.Field == nil {
			continue
		}
		if n++; o.Transparency.Ratio.OK() {
			return false
		}
		if o.Field.FWHM.OK() || o.Field.Defocused {
			shaped++
		}
	}
	return n >= minGroup && 4*shaped < n
}

// manyStreaks is more tracks than satellites leave in one sub: the stars
// themselves are tracks.
const manyStreaks = 8

func (e *evidence) noStars() []Finding {
	f := e.Field
	none := Finding{NoStars, Cull, certain / 2, []fact.Fact{fact.Of(NoneSeen)}}
	if f.FWHM.Why.Code == stars.WidthsDisagree && e.starless() { // a nebula's, through which no star is seen
		return []Finding{{NoStars, Doubtful, 1, []fact.Fact{fact.Of(KnotsOnly, fact.Count("images", f.Count))}}}
	}
	if f.Count > 0 {
		none.Facts = []fact.Fact{fact.Of(StrayOnly, fact.Count("detections", f.Count))}
	}
	switch {
	case f.Full:
		none.Facts = append(none.Facts, fact.Of(RangeFilled))
	case e.SkyADU.Why.Code == stars.NoPixels:
		none.Facts = append(none.Facts, fact.Of(Blank))
	}
	if e.base.Clear > 0 && !e.starless() {
		none.Facts = append(none.Facts, fact.Of(OthersHave, e.whose(), fact.Number("stars", e.base.Stars)))
	}
	before := func(c Cause, why fact.Fact) []Finding {
		return []Finding{{c, Cull, none.Severity + 1, append(slices.Clone(none.Facts), why)}, none}
	}
	times := fact.Number("times", e.sky)
	switch {
	case len(f.Streaks) >= manyStreaks:
		return before(Trailed, fact.Of(StreaksInstead, fact.Count("streaks", len(f.Streaks))))
	case e.drownedByTwilight():
		return before(Twilight, fact.Of(InTwilight, times, e.whose()))
	case (e.base.Clear == 0 || e.starless()) && e.Sky.SunAlt.V > fullTwilightAlt:
		return before(Twilight, fact.Of(SunStood, fact.Number("sun_deg", e.Sky.SunAlt.V)))
	case e.coverAround():
		return before(Obstructed, fact.Of(BesideCovered))
	case e.unexplainedSky() && f.Full: // under which stars vanish without a cloud
		return before(BrightSky, fact.Of(UnderCloud, times, e.whose()))
	case e.unexplainedSky():
		return before(Cloud, fact.Of(UnderCloud, times, e.whose()))
	case e.skyHidden():
		none.Facts = append(none.Facts, fact.Of(CapOrCover, times, e.whose()))
	case e.cloudAround():
		return before(Cloud, fact.Of(BetweenClouded))
	case e.base.Clear > 0 && !e.starless() && e.countByChance(float64(f.Count), e.base.Stars):
		none.Verdict, none.Severity = Doubtful, 1 // where the others have a handful, or knots of a nebula that come and go
	}
	return []Finding{none}
}

// drownedByTwilight tells whether a sky that the Sun lights hides the stars.
func (e *evidence) drownedByTwilight() bool {
	return e.sky > cloudSkyRise && e.skyCause() == Twilight
}

// coverSky is the sky, times the baseline, under which something dark is in
// front of the telescope; cloud over a dark site takes less.
const coverSky = 0.5

// lostAtMost is the stars, times the baseline, that another field may have. More
// are no stars, and then it is the matching that failed.
const lostAtMost = 2.5

// lostField is a field of stars that are not the target's. Where either shows a handful,
// they may be, and the matching failed.
func (e *evidence) lostField() []Finding {
	n := float64(e.Field.Count)
	if e.Align.ShiftX.OK() || e.Transparency.Ratio.OK() || !(n < lostAtMost*e.base.Stars) || !e.othersTied() || !e.measuredStars() {
		return nil
	}
	lost := Finding{FewStars, Cull, 2, []fact.Fact{fact.Of(PointingLost, fact.Count("stars", e.Field.Count))}}
	if min(n, e.base.Stars) < dozens {
		lost.Verdict, lost.Severity = Doubtful, 1
	}
	return []Finding{lost}
}

// measuredStars tells whether some of a sub's stars have a width that they agree on: what
// has none may be no stars.
func (e *evidence) measuredStars() bool {
	return e.Field.Defocused || tellsShape(e.Field) && !e.strangers()
}

// strangers tells that a sub's images tie to none of the others', although light shines at the
// places of their stars: they are parts of a galaxy or nebula, and tell nothing of the stars'
// shape.
func (s *Sub) strangers() bool {
	return s.Drawn.N > 0 && !s.Field.Defocused && !s.Align.ShiftX.OK()
}

// ShowsNoStars tells that the images of a sub are none of stars, so that no figure of theirs is
// one of the stars' shape: parts of a galaxy or nebula, or what is left where no star is seen.
func (s *Sub) ShowsNoStars() bool {
	return s.strangers() || slices.ContainsFunc(s.Findings, func(f Finding) bool { return f.Cause == NoStars && f.Verdict == Cull })
}

// tellsShape tells whether stars of a field agree on a width.
func tellsShape(f *stars.Field) bool {
	return f.FWHM.N >= fewestShapes && f.FWHM.Err < looseWidth*f.FWHM.V
}

// unprovenStars is the share of the stars to be expected under which a sub whose light
// cannot be compared is not taken for a clear one; counts of clear subs scatter less.
const unprovenStars = 0.8

// unproven is a doubt about a sub that shows too few stars to tell its light, fewer than
// the others of its group, whose light is measured, or none that is surely one.
func (e *evidence) unproven(share float64) []Finding {
	if e.onlyKnots() {
		return []Finding{{FewStars, Doubtful, 1, []fact.Fact{fact.Of(KnotsOnly, fact.Count("images", e.Field.Count)), fact.Of(OthersHave, e.whose(), fact.Number("stars", e.base.Stars))}}}
	}
	if e.Transparency.Ratio.OK() || !(share < unprovenStars) && e.measuredStars() || !e.othersLit() {
		return nil
	}
	few := Finding{FewStars, Doubtful, 1, []fact.Fact{fact.Of(StarCount, fact.Count("stars", e.Field.Count), fact.Number("of_expected", share)), fact.Of(TooFewToTie)}}
	if share < unprovenStars && e.cloudAround() {
		return []Finding{{Cloud, Doubtful, 1, append(slices.Clone(few.Facts), fact.Of(BetweenClouded))}, few}
	}
	return []Finding{few}
}

// onlyKnots tells whether a sub shows images of many widths, as knots of nebulae are, where
// the stars of most others of its group have one: something took its stars, blur perhaps, and
// light compared by what is left says nothing of it.
func (e *evidence) onlyKnots() bool {
	if e.Field.FWHM.Why.Code != stars.WidthsDisagree {
		return false
	}
	shaped := 0
	for _, o := range e.mates {
		if o.Field != nil && o.measuredStars() {
			shaped++
		}
	}
	return 2*shaped > len(e.mates)
}

// othersLit tells whether the light of others of the group is known: of most where they
// show a handful of stars, which light is then told by.
func (e *evidence) othersLit() bool {
	lit := 0
	for _, o := range e.mates {
		if o.Transparency.Ratio.OK() {
			lit++
		}
	}
	return lit > 0 && (2*lit > len(e.mates) || !(e.base.Stars < dozens))
}

// othersTied tells whether most of the group's neighbours were tied to the
// reference field, so that the matching itself can be trusted.
func (e *evidence) othersTied() bool {
	tied, n := 0, 0
	for _, o := range e.mates {
		if o != e && o.Field != nil {
			n++
			if o.Align.ShiftX.OK() {
				tied++
			}
		}
	}
	return n > 0 && 4*tied >= 3*n
}

// noSharper is the FWHM, times the group's best quarter, that seeing does not reach.
const noSharper = 0.6

// hotPixelsMeasured tells whether most of a sub's stars are gone with its width: what
// was measured is then as likely hot pixels, and no sub is culled for that.
func (e *evidence) hotPixelsMeasured() bool {
	return e.fwhm < noSharper && !e.byHFD && (float64(e.Field.Count) < e.lim.StarsDoubtful*e.base.Stars || !e.Transparency.Ratio.OK())
}
