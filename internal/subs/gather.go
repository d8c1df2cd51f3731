package subs

import (
	"math"

	"fitsqa/internal/names"
)

// noiseAsIs is the noise, times the baseline's, under which samples are cut off.
const noiseAsIs = 0.95

// fill works out what a sub's figures are beside its baseline. The subs of its session have to
// be known: the sky beside a cover is held against that of a clear one.
func (e *evidence) fill() {
	s, base, lim := e.Sub, e.base, e.lim
	nan := math.NaN()
	e.narrow, e.still = 1, 1
	e.burden, e.transparency, e.unevenness, e.sky, e.stars, e.fwhm, e.fwhmSure, e.trail, e.halo = nan, nan, nan, nan, nan, nan, nan, nan, nan
	f := s.Field
	if f == nil {
		return
	}
	e.unevenness = surely(unevenLight(s.Transparency, lim))
	if base.Unevenness > 0 { // independent, so they subtract in quadrature
		e.unevenness = math.Sqrt(math.Max(0, e.unevenness*e.unevenness-base.Unevenness*base.Unevenness))
	}
	e.sky = ratio(s.SkyADU.V, base.Sky)
	if !s.Calibrated || math.IsNaN(e.sky) {
		// Where the sky limits, noise variance goes with its level; where it does
		// not, this is a lower bound.
		r := ratio(s.RandomNoise.V, base.RandomNoise)
		e.sky, e.skyByNoise = r*r, true
		if least := ratio(s.SkyADU.V, base.Sky); least > 1 && !(r > noiseAsIs) { // it fills the range, and its noise is cut off
			e.sky, e.skyAtLeast = least, true
		}
	}
	e.halo = f.Halo.V - base.Halo
	e.gatherShape()
	e.transparency = weatherTransparency(s, base.Airmass)
	if e.covered = e.coveredShare(); e.covered > 0 { // the weather is what the rest tells
		e.transparency /= 1 - math.Min(s.Transparency.Covered.V, 0.95)
		if e.skyHidden() && e.transparency < coveredLit {
			e.transparency = nan
		}
	}
	if s.Field.Double.Light() > doubledSpoils { // some stars' second images merge with others
		e.unevenness = nan
	}
	e.starlight = e.ownStarlight()
	e.burden = e.burdenOf()
	e.stars = float64(f.Count) / e.expectedStars()
}

// gatherShape is what the images' shape tells: a trail, and the width, across a trail where
// there is one.
func (e *evidence) gatherShape() {
	f, base := e.Field, e.base
	x, y := e.ellipticityVector()
	e.trailAngle = math.Atan2(y, x) / 2
	opticsX, opticsY := e.byOptics()
	if e.byLight() {
		e.trail, e.trailErr = e.Drawn.Length(opticsX, opticsY), e.Drawn.Err
	} else if narrow := f.FWHM.V * math.Sqrt(1-f.Ellipticity.V); !(narrow < resolved || e.BeyondStars(narrow) || f.FWHM.Err > looseWidth*f.FWHM.V) {
		e.trail, e.trailErr = math.Hypot(x-opticsX, y-opticsY), f.Ellipticity.KnownErr()
	}
	if width, left, ok := e.withoutMotion(); ok {
		e.still, e.trail = width, left
	}
	size, baseline := f.FWHM.Scaled(e.still), base.FWHM*e.motion.width
	if e.byHFD = f.Defocused || !f.FWHM.OK() || e.coresOnDiscs(); e.byHFD {
		size, baseline = f.HFD, base.HFD
	}
	e.fwhm, e.fwhmSure = ratio(size.V, baseline), ratio(surelyWide(size), baseline)
	if e.trailed().Cause != "" { // the geometric mean of both axes is √(1-e) from the narrow one
		e.narrow = math.Sqrt(1 - math.Min(e.trail, 0.9))
		e.fwhm, e.fwhmSure = e.fwhm*e.narrow, e.fwhmSure*e.narrow
	}
}

// lightUp gives the subs of a night those of their session whose transparency is known and
// no passing cloud's.
func lightUp(night []*evidence) {
	for from := 0; from < len(night); {
		to := from + 1
		for to < len(night) && night[to].Start.Sub(night[to-1].Start) <= sessionGap {
			to++
		}
		var lit []*evidence
		for _, e := range night[from:to] {
			if e.Transparency.Ratio.OK() && !e.passedByCloud() {
				e.litRank = len(lit)
				lit = append(lit, e)
			}
		}
		for _, e := range night[from:to] {
			e.lit = lit
		}
		from = to
	}
}

// lineUp gives every evidence its night. In: in time order.
func lineUp(all []*evidence) {
	nights := map[names.Name][]*evidence{}
	for _, e := range all {
		if !e.Start.IsZero() {
			e.place = len(nights[e.Camera])
			nights[e.Camera] = append(nights[e.Camera], e)
		}
	}
	for _, e := range all {
		if !e.Start.IsZero() {
			e.night = nights[e.Camera]
		}
	}
	for _, night := range nights {
		lightUp(night)
	}
}
