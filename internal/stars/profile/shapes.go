// Package profile measures how stars look: Moffat profiles of one exponent over
// the field, elliptical or drawn along a line, their errors, fluxes and
// half-flux diameters.
//
// Model: a star is a Moffat profile (Moffat 1969) integrated over the pixels, on a
// constant floor. The exponent is one for the field, by its brightest stars; each star
// has its own place, height, width and elongation. Fits are least squares weighted by
// noise (Marquardt 1963). Fluxes of fainter stars come from the filter or from the usual
// profile at their place, brought to the scale of the fitted ones.
//
// Limits: a width is that of the profile, not of an image drawn through pixels; stars under
// 1.5 px come out wider the more they fall between pixels; what follows no Moffat
// profile (rings, doubled stars) is not fitted, and keeps its half-flux diameter.
package profile

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// Shaper measures the shapes of stars on one picture after another and keeps
// its buffers between them. One Shaper serves one goroutine.
type Shaper struct {
	p   *plane.Plane
	f   fitter
	buf []sample
}

// fewestFits is how many stars of good signal are enough.
const fewestFits = 10

// Measure fits profiles to the stars that allow it, brings the fluxes to totals
// and measures half-flux diameters; false when no star allows it, with the reason
// in the field.
func (sh *Shaper) Measure(p *plane.Plane, field *stars.Field, list []stars.Star, s detect.Seeing, opt stars.Options) bool {
	sh.p = p
	for i := range list {
		list[i].Unfit()
	}
	chosen := suitable(p, list, s, opt.MaxFits, fewestFits)
	if len(chosen) == 0 {
		field.NoStars(stars.NoStandOut)
		if len(list) > 0 {
			field.NoStars(stars.NoneToFit)
		}
		return false
	}
	var fits []fitted
	field.CommonErr, field.FluxErr, field.FilterErr, field.Scale, field.Growth = 0, 0, 0, stars.Scale{}, stars.Growth{}
	if !field.Defocused {
		fits = sh.fitAll(field, list, chosen, s, opt)
	}
	diameters(p, list, chosen, fits, s)
	return true
}

// fitAll fits the chosen stars with an elliptical profile. Where the field
// shows better with a round one drawn along a line, the direction and the
// elongation are those of the line; size and flux stay those of the elliptical
// profile, so that one definition of either holds for all subs. The elongation of
// a line is told by its second moment, which profiles with an exponent of 2 or
// less (1/beta from 0.5 on) do not have: these stay elliptical.
func (sh *Shaper) fitAll(field *stars.Field, list []stars.Star, chosen []int, s detect.Seeing, opt stars.Options) []fitted {
	fits, common, chosen, knots := sh.fitStars(list, chosen, s, opt)
	if sh.p.Gain > 0 { // else the photons' noise is unknown
		fits = flagMisfits(list, fits, sh.p.W, sh.p.H)
	}
	field.CommonErr = common.widthErr
	if len(fits) > 0 {
		field.FluxErr = withinErr(common, fits[0].reach)
	}
	field.Growth = sh.growthOf(list, fits, s)
	forced := undersampled(sh.p, fits)
	if forced {
		sh.force(list, fits)
	}
	field.Scale, field.FilterErr = calibrateFlux(sh.p, list, fits, knots, s, roundingOf(field, sh.p.Step))
	if len(fits) > 0 && !forced { // else it is no answer of the filter that is brought to scale
		field.Scale.Exponent, field.Scale.LightErr = stats.Known(common.q, common.err, len(fits)), common.lightErr
	}
	t, ok := trailSeed(list, fits)
	if !ok {
		return fits
	}
	size := map[int]stars.Star{}
	for _, f := range fits {
		size[f.star] = list[f.star]
	}
	drawn, other := sh.fitModel(list, chosen, s, t, true)
	for _, i := range chosen {
		list[i].Unfit()
	}
	// Both have as many parameters; a difference of 10 is beyond chance.
	if other.misfit < common.misfit-10 && len(drawn)*10 > len(fits)*8 && drawn[0].p[7] < 0.5 {
		fits = slices.DeleteFunc(drawn, func(f fitted) bool { return !(size[f.star].FWHM > 0) })
		for _, f := range fits {
			st := &list[f.star]
			adopt(st, &f)
			st.FWHM, st.FWHMErr = size[f.star].FWHM, size[f.star].FWHMErr
		}
		return fits
	}
	for _, f := range fits {
		adopt(&list[f.star], &f)
	}
	return fits
}

// fitStars fits the chosen images, and where their widths disagree, the fainter ones, too,
// to tell stars from knots: it marks these, and gives the fits of the stars.
func (sh *Shaper) fitStars(list []stars.Star, chosen []int, s detect.Seeing, opt stars.Options) (fits []fitted, common exponent, of []int, knots []fitted) {
	fits, common = sh.fitModel(list, chosen, s, seedOf(s), false)
	if images := withoutTracks(list, fits, s.Fwhm); len(images) < len(fits) { // one exponent is all the fits'
		chosen = starsOf(images)
		fits, common = sh.fitModel(list, chosen, s, seedOf(s), false)
	}
	if opt.Stars == nil && !disagree(fits, len(list), sh.p.W*sh.p.H) {
		return fits, common, chosen, nil
	}
	before := slices.Clone(list)
	more, _ := sh.fitModel(list, suitable(sh.p, list, s, opt.MaxFits, opt.MaxFits), s, seedOf(s), false)
	images := withoutTracks(list, more, s.Fwhm)
	var some []fitted
	if opt.Stars != nil {
		some, knots = starsAt(images, opt.Stars)
	} else {
		some, knots = withoutKnots(images, sampledWidth/math.Sqrt(sh.p.Density()), sh.p.W, sh.p.H)
	}
	if len(knots) == 0 {
		copy(list, before)
		return fits, common, chosen, nil
	}
	for _, f := range knots {
		list[f.star].Knot = true
		list[f.star].Unfit()
	}
	of = starsOf(some)
	fits, common = sh.fitModel(list, of, s, seedOf(s), false)
	return fits, common, of, knots
}

// fitModel fits one kind of profile to all chosen stars. The exponent is one
// for the field, the one that fits the brightest stars best: a star of moderate
// signal alone cannot tell its exponent from its width.
func (sh *Shaper) fitModel(list []stars.Star, chosen []int, s detect.Seeing, start params, trail bool) (fits []fitted, common exponent) {
	p, f := sh.p, &sh.f
	f.prepareFor(&start, trail)
	chosen = affordable(chosen, len(f.nodes), stampRadius(s))
	radius := aperture(list, chosen, s.Fwhm)
	common = sh.exponent(list, bestFor(list, chosen), s, start)
	start[7] = common.q
	around := p.Around(annulusTo * radius)
	for k, i := range chosen {
		if k+1 < len(chosen) {
			next := &list[chosen[k+1]]
			around.Fetch(int(next.X), int(next.Y))
		}
		st := &list[i]
		sh.buf = stamp(p, sh.buf, st.X, st.Y, stampRadius(s))
		fit := fitted{star: i, p: start.at(st), trail: trail}
		if !f.fit(sh.buf, &fit.p) || !fit.plausible(st, s) {
			continue
		}
		fit.variance, fit.widthVar = f.shapeVariance(sh.buf, &fit.p, p.Gain)
		if !trail { // flux and whether it is one star are told by the elliptical profile
			fit.misfit = f.misfit(sh.buf, &fit.p, p.Gain)
			level := p.Annulus(fit.p[0], fit.p[1], annulusFrom*radius, annulusTo*radius)
			fit.level = level
			fit.reach = max(leastReach, 2*radius/fit.fwhm())
			fit.excess = sh.excess(&fit.p, fit.reach, level) / p.Density()
		}
		adopt(st, &fit)
		fits = append(fits, fit)
		// The next star starts from this one's form, which saves it some steps.
		copy(start[4:7], fit.p[4:7])
	}
	return fits, common
}

// affordable gives as many of the chosen stars, best first, as fits of so many
// nodes a pixel may take a second or so for: narrow stars with long trails cost a
// thousand times what round ones do.
func affordable(chosen []int, nodes int, radius float64) []int {
	const evaluations, fewest = 3e6, 12
	most := evaluations / (math.Pi * radius * radius * float64(nodes))
	return chosen[:min(len(chosen), max(fewest, int(most)))]
}

// bestFor gives as many of the chosen stars, best first, as fix the exponent: 24
// with a signal to noise of 150 leave an error in the width of 0.5 %, as do more
// stars that are fainter; a hundred at most.
func bestFor(list []stars.Star, chosen []int) []int {
	var sum float64
	for k, i := range chosen {
		sum += list[i].SNR * list[i].SNR
		if k+1 >= 100 || k+1 >= 24 && sum > 24*150*150 {
			return chosen[:k+1]
		}
	}
	return chosen
}

// seedOf is the elliptical profile to start from.
func seedOf(s detect.Seeing) params {
	xx, yy := max(s.Xx-1./12, 0.1), max(s.Yy-1./12, 0.1)
	det := xx*yy - s.Xy*s.Xy
	if !(det > 0.005) {
		det = xx * yy
		s.Xy = 0
	}
	// sd to half width at half maximum: times sqrt(2 ln 2).
	c := 1 / (2 * math.Ln2 * det)
	return params{4: yy * c, 5: -s.Xy * c, 6: xx * c, 7: 0.3}
}

// trailSeed is the round profile drawn along a line that the elliptical fits
// suggest, when they agree on a direction.
func trailSeed(list []stars.Star, fits []fitted) (params, bool) {
	var cx, cy, ell, width []float64
	for _, f := range fits {
		st := &list[f.star]
		s, c := math.Sincos(2 * st.Angle * math.Pi / 180)
		cx, cy, ell = append(cx, st.Ellipticity*c), append(cy, st.Ellipticity*s), append(ell, st.Ellipticity)
		width = append(width, st.FWHM)
	}
	if len(fits) < 3 {
		return params{}, false
	}
	x, y := stats.Median(cx), stats.Median(cy)
	e := math.Hypot(x, y)
	if e < 0.1 || e < 0.7*stats.Median(ell) {
		return params{}, false
	}
	size := stats.Median(width)
	a, b := size/2/math.Sqrt(1-e), size/2*math.Sqrt(1-e)
	length := math.Sqrt(12 * (a*a - b*b) / (2 * math.Ln2))
	s, c := math.Sincos(math.Atan2(y, x) / 2)
	return params{4: 1 / (b * b), 5: length * c, 6: length * s, 7: 0.2}, true
}
