package subs

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// trailed looks for elongation that all stars share and the optics do not make:
// tracking, wind, a knock. It is held against absolute limits, so that a night
// that trails from end to end is not held against itself. It is not thrown away
// whole either: see anyTrail.
func (e *evidence) trailed() Finding {
	f := e.Field
	if !e.byLight() && !(f.Coherence.V >= e.lim.CoherenceMin) {
		return Finding{}
	}
	verdict, severity := grade(e.trail-e.trailErr, e.lim.EllipticityDoubtful, e.lim.EllipticityCull)
	if verdict == Keep || e.byChance(oneInHundred) {
		return Finding{}
	}
	cull, alike := e.lim.EllipticityCull, e.base.Roundest > e.lim.EllipticityDoubtful && e.motion.px == 0
	if alike {
		cull *= anyTrail
		verdict, severity = grade(e.ownElongation()-e.trailErr, e.lim.EllipticityDoubtful, cull)
	}
	if verdict == Cull && (alike && e.byLight() || e.byChance(oneInThousand)) { // as all are, it may be a galaxy
		verdict, severity = Doubtful, 1
	}
	facts := append([]fact.Fact{e.drawnOut()}, e.trailKind()...)
	own := math.Hypot(e.base.EllipticityX, e.base.EllipticityY)
	switch {
	case e.motion.px > 0:
		facts = append(facts, fact.Of(BeyondComet, fact.Number("ellipticity", e.trail)))
	case own >= opticsShows && !(alike && verdict == Cull):
		facts = append(facts, fact.Of(BeyondOptics, fact.Number("ellipticity", e.trail), fact.Number("optics", own)))
	}
	facts = append(facts, fact.Of(EllipticityLimit, fact.Number("limit", crossed(verdict, e.lim.EllipticityDoubtful, cull))))
	if alike && verdict == Doubtful && e.trail > e.lim.EllipticityCull {
		facts = append(facts, fact.Of(RoundestQuarter, fact.Number("ellipticity", e.base.Roundest)))
	}
	return Finding{Trailed, verdict, severity, facts}
}

// drawnOut is how far a sub's stars, or the light at the places of the others', are drawn out.
func (e *evidence) drawnOut() fact.Fact {
	if e.byLight() {
		return fact.Of(LightDrawn, fact.Number("ellipticity", e.ownElongation()), fact.Number("angle_deg", e.trailAngle*180/math.Pi))
	}
	f := e.Field
	return fact.Of(Elongation, fact.Number("ellipticity", f.Ellipticity.V), fact.Number("angle_deg", f.Angle.V), fact.Number("coherence", f.Coherence.V))
}

// A cull is worth what it leaves. Where hardly any sub of a group is round or
// sharp, culling those that are like the rest leaves no better stack, only less of
// one: then only what spoils any stack is culled: stars as lines, which a fitted
// ellipticity of 0.35 is (0.42 between half maxima), or over four times the area. It
// is one limit or the other and no middle: a limit that follows the best of a few
// subs lies among the others, and takes or leaves them as those few happen to be.
// Lines are lines whatever drew them: there the optics' share, which subs that all
// trail hardly tell, is not taken off.
const (
	anyTrail = 7. / 6 // times the cull limit
	anyWidth = 2.0    // times the absolute limit
)

// widestLimit is the absolute width from which on a sub is culled, arcsec.
func (e *evidence) widestLimit() float64 {
	if e.base.FWHM*e.motion.width*e.PixelScale*e.lim.FWHMDoubtful > e.lim.FWHMMaxArcsec {
		return anyWidth * e.lim.FWHMMaxArcsec
	}
	return e.lim.FWHMMaxArcsec
}

// opticsShows is the ellipticity of the optics from which on it is worth a word.
const opticsShows = 0.03

// byChance tells whether stars drawn out in random directions may agree as well
// as these: the mean vector of N of ellipticity e exceeds x by chance with
// P = exp(-N x²/e²), the null of the two-dimensional random walk (Rayleigh
// 1905); one time in a hundred counts as chance. Where the group's other subs
// are round there are no such stars, and a few that agree are enough; nor where the light of
// all at known places is drawn out by more than noise makes so seldom (e²/2 of its standard
// errors): one time in a thousand for a cull.
func (e *evidence) byChance(seldom float64) bool {
	if e.Drawn.N > 0 && e.Drawn.Length(e.byOptics()) > math.Sqrt(2*math.Log(seldom)-2)*e.Drawn.Err {
		return false
	}
	if e.byLight() {
		return true
	}
	n := e.Field.Ellipticity.N
	if n >= fewestShapes && e.base.Ellipticity < e.Field.Ellipticity.V/2 {
		return false
	}
	return e.trail < e.Field.Ellipticity.V*math.Sqrt(math.Log(oneInHundred)/float64(max(n, 1)))
}

const oneInHundred, oneInThousand = 100.0, 1000.0

// soft looks for stars larger than the group's, or than any sub's should be. Where it
// may be no stars that are so large, it is a doubt at most.
func (e *evidence) soft() Finding {
	if e.strangers() {
		return e.spreadOut()
	}
	found := e.large()
	if found.Verdict == Cull && e.noStarsImages() {
		found.Verdict, found.Severity = Doubtful, 1
		found.Facts = append(slices.Clip(found.Facts), fact.Of(PerhapsNoStars))
	}
	if spread := e.spreadOut(); spread.Severity > found.Severity {
		return spread
	}
	return found
}

// spreadOut looks for light that is spread wide around the places of the others' stars,
// where too few of a sub's own tell how large they are; rings, which may have merged, besides.
func (e *evidence) spreadOut() Finding {
	if e.Spread.N == 0 || !e.Field.Defocused && e.measuredStars() && !e.wideAsNoStar() {
		return Finding{}
	}
	verdict, severity := grade(e.narrow*surely(e.Spread), e.lim.FWHMDoubtful, e.lim.FWHMCull)
	if verdict == Keep {
		return Finding{}
	}
	return Finding{Soft, verdict, severity, []fact.Fact{fact.Of(LightSpread, fact.Number("times", e.narrow*e.Spread.V)), limited(crossed(verdict, e.lim.FWHMDoubtful, e.lim.FWHMCull))}}
}

// widestSeeing is a FWHM, arcsec, that neither air nor wind makes, and coarseStar one, px, that
// lenses make under pixels of any size. Out of focus as far stars
// are rings, once these are ringsFrom times as wide as in focus: under coarse pixels a star in
// focus is half as wide already, and seeing still fills the ring.
const (
	widestSeeing = 25
	coarseStar   = 4
	ringsFrom    = 3
)

// BeyondStars tells whether a FWHM, px, is more than seeing makes stars in focus.
func (s *Sub) BeyondStars(px float64) bool {
	return px > coarseStar && px*s.PixelScale > widestSeeing
}

// wideAsNoStar tells whether the images are wider than seeing makes stars that are no rings.
func (e *evidence) wideAsNoStar() bool {
	return e.BeyondStars(e.Field.FWHM.V) && !(e.fwhm < ringsFrom && !e.BeyondStars(e.base.FWHM))
}

// noStarsImages tells whether the images may be no stars at all, knots of a nebula above
// all: images that are no rings and could not be fitted, or larger than seeing makes
// them; large ones whose light is not that of the stars that the group's others have; or
// large ones beside stars as sharp as ever, or where the light at the others' places is so.
func (e *evidence) noStarsImages() bool {
	f := e.Field
	if f.Defocused {
		return false
	}
	return e.stillSharp() || e.sharpAtPlaces() || !f.FWHM.OK() || e.wideAsNoStar() || !e.Transparency.Ratio.OK() && e.othersTied()
}

// sharpAtPlaces tells whether the light at the places of the others' stars surely reaches no
// further than there: what is larger is no star.
func (e *evidence) sharpAtPlaces() bool {
	return e.Spread.N >= fewestShapes && e.Spread.V+2*e.Spread.KnownErr() < e.lim.FWHMDoubtful
}

// What makes a sub soft makes all of its stars so.
const (
	asSharp    = 1.15 // times the baseline, of a star as sharp as the group's,
	unlikeSub  = 0.65 // times the sub's own, which is less than a field is sharper in its middle
	sharpShare = 0.1  // of the stars of known width: more are no chance
	knownSNR   = 15.0 // signal to noise from which on a star's width is known to a tenth
	sureSNR    = 50.0 // and to a thirtieth: one such star tells
	astray     = 0.03 // of such: in real crowded fields one or two of a hundred fits of stars beside others or the edge are as narrow
)

// stillSharp tells whether some of the stars that a sub shares with the others are as
// sharp as the group's: they are no hot pixels and no particles.
func (e *evidence) stillSharp() bool {
	var sharp, all, sureSharp, sure float64
	for _, p := range e.Align.Pairs {
		st := &e.Field.Stars[p[0]]
		if !st.Fitted || st.SNR < knownSNR {
			continue
		}
		r := st.FWHM / e.base.FWHM
		is := r > noSharper && r < asSharp && st.FWHM < unlikeSub*e.Field.FWHM.V
		if all++; is {
			sharp++
		}
		if st.SNR > sureSNR {
			if sure++; is {
				sureSharp++
			}
		}
	}
	return sureSharp > astray*sure || sharp >= 2 && sharp > sharpShare*all
}

// large looks for images larger than the group's, or than any sub's should be; where the
// group's are a nebula's, as its own, they tell nothing.
func (e *evidence) large() Finding {
	f := e.Field
	if e.wideAsNoStar() && !f.Defocused && e.BeyondStars(e.base.FWHM) {
		return Finding{}
	}
	beside, alone, size, width, base := Width, WidthAlone, fact.Number("fwhm_px", f.FWHM.V), f.FWHM, e.base.FWHM
	if e.byHFD {
		beside, alone, size, width, base = RingWidth, RingWidthAlone, fact.Number("hfd_px", f.HFD.V), f.HFD, e.base.HFD
	}
	verdict, severity := grade(e.fwhmSure, e.lim.FWHMDoubtful, e.lim.FWHMCull)
	absolute, hard, limit := e.softAbsolute(surelyWide(width) * e.still)
	switch {
	case hard > severity:
		return Finding{Soft, absolute, hard, append([]fact.Fact{fact.Of(alone, size)}, limit...)}
	case verdict != Keep:
		times := []fact.Value{size, fact.Number("times", e.fwhm), e.whose(), fact.Number("baseline_px", base)}
		if e.narrow < 1 && !e.byHFD {
			beside, times = WidthAcross, append(times, fact.Number("across_px", e.fwhm*base))
		}
		facts := []fact.Fact{fact.Of(beside, times...)}
		facts = append(facts, e.softKind()...)
		return Finding{Soft, verdict, severity, append(facts, limited(crossed(verdict, e.lim.FWHMDoubtful, e.lim.FWHMCull)))}
	case f.Defocused && math.IsNaN(e.fwhm):
		return Finding{Soft, Cull, 2, []fact.Fact{fact.Of(OutOfFocus, fact.Number("hfd_px", f.HFD.V))}}
	}
	return Finding{}
}

// discShows is how many times more than the FWHM the half-flux diameter grows, from which on
// stars are cores on discs: seeing changes their ratio by a tenth at most.
const discShows = 1.2

// coresOnDiscs tells whether the light of the stars has spread while their cores are sharp: they
// were out of focus for a part of the exposure. Trails, second images and halos spread it too.
func (e *evidence) coresOnDiscs() bool {
	f := e.Field
	return e.motion.px == 0 && e.still == 1 && e.trailed().Cause == "" && !f.Double.Is() && !e.haloed() &&
		ratio(surelyWide(f.HFD), e.base.HFD) > discShows*(f.FWHM.V+2*f.FWHM.KnownErr())/e.base.FWHM
}

// surelyWide is a size as far as it is sure; NaN where too few stars are behind it.
func surelyWide(size stats.Value) float64 {
	if size.N < fewestShapes {
		return math.NaN()
	}
	return surely(size)
}

// softAbsolute holds the size against the limits that no group makes good.
func (e *evidence) softAbsolute(px float64) (v Verdict, severity float64, limit []fact.Fact) {
	if !(px > e.lim.FWHMMaxPx) {
		return Keep, 0, nil
	}
	most := fact.Number("limit_px", e.lim.FWHMMaxPx)
	if math.IsNaN(e.PixelScale) {
		return Doubtful, 1, []fact.Fact{fact.Of(WidthLimitPx, most)}
	}
	arcsec, cull := px*e.PixelScale, e.widestLimit()
	limit = []fact.Fact{fact.Of(WidthLimit, fact.Number("limit_arcsec", e.lim.FWHMMaxArcsec), most)}
	switch {
	case arcsec > cull:
		return Cull, 1 + math.Min(arcsec/e.lim.FWHMMaxArcsec, px/e.lim.FWHMMaxPx), limit
	case arcsec > e.lim.FWHMMaxArcsec:
		return Doubtful, 1, append(limit, fact.Of(SharpestQuarter, fact.Number("fwhm_arcsec", e.base.FWHM*e.PixelScale)))
	}
	return Keep, 0, nil
}
