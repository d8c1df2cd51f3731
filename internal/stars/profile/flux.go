package profile

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// The flux of a star is all its light: of bright fitted stars, what the pixels
// within two FWHM (or 7 px) hold above the background around, over the share of a profile's
// light that lies there; of all others, the filter's answer in the proportion that
// the fitted ones tell. Bright are those of which the sky's noise in so many pixels
// makes less than what no noise explains anyhow (systematic). Neighbours do not decide it:
// they add to the filter's answers of broad crowded stars as well, and always add, so
// that these come out 4 % higher than by pixels in real fields 7 to 8 px wide.

const (
	// widestWings is the 1/beta up to which the wings of a profile are believed:
	// those of the atmosphere have betas from 3 to 4.8 (Trujillo et al. 2001, MNRAS
	// 328, 977), with the optics on top from 2.5 (the field fits tell). Images that a fit makes broader have shoulders, from jitter or
	// defocus, that end.
	widestWings = 0.4
	// apertureNoise is the noise of such a flux, within leastReach, over that of the
	// filter's answer, which comes from 4 pi sigma² px: of four times pi FWHM² px, and
	// of the median of some ten times pi FWHM². Wider apertures have more.
	apertureNoise = 3.0
	leastReach    = 4.0 // half widths: two FWHM
	widestHalo    = 7.0 // px, that hold most of what optics and sensor scatter
	// neighbourShare is the light of a neighbour, of a star's own, beside which it stands
	// alone.
	neighbourShare = 0.02
	fewestAlone    = 10 // stars without neighbours
	fewestAbove    = 4  // stars that none beside them outshines, where too few are alone
	// outshone is the light of a neighbour, of a star's own, in which the star's is lost: in
	// crowds many have one of some times their light, and are as good as the others there.
	outshone = 10
	// uncalibrated is by how much ln of the flux under the filter may be off where
	// no star could be fitted.
	uncalibrated = 0.3
)

func (f *fitted) flux() float64 {
	m := f.profile()
	return (m.flux()*enclosed(m.q, f.reach) + f.excess) / within(m.q, f.reach)
}

// within is the share of a profile's light that lies within so many half widths.
func within(q, reach float64) float64 { return enclosed(min(q, widestWings), reach) }

// withinErr is the error of ln flux that the exponent's makes.
func withinErr(e exponent, reach float64) float64 {
	low, high := max(e.q-e.err, qMin), max(e.q+e.err, 2*qMin)
	return math.Log(within(low, reach)/within(high, reach)) / (high - low) * e.err
}

// aperture is the radius within which the light of a field's stars is summed, px:
// two FWHM, but widestHalo where the stars leave room for it. What the optics scatter
// does not shrink with the seeing, and would be missed around narrow stars alone.
func aperture(list []stars.Star, chosen []int, fwhm float64) float64 {
	const two = leastReach / 2
	if two*fwhm >= widestHalo || len(alone(list, chosen, loneliness(fwhm, widestHalo), neighbourShare)) < fewestAlone {
		return two * fwhm
	}
	return widestHalo
}

// loneliness is how far from a star others must be, px, not to fall into its
// aperture or on what is taken for the background.
func loneliness(fwhm, radius float64) float64 { return max(4*fwhm, radius+2*fwhm) }

// excess is the sum, over the pixels within so many half widths of the centre, of
// what they hold more than the profile on a background of the given level.
func (sh *Shaper) excess(p *params, reach, level float64) (sum float64) {
	fit := fitted{p: *p}
	long, _, _ := fit.axes()
	sh.buf = stamp(sh.p, sh.buf, p[0], p[1], reach*long+1)
	table := sh.f.rows(sh.buf, p)
	for i, s := range sh.buf {
		if p.halfWidths2(s) <= reach*reach {
			sum += s.v - p[2]*table[i][2] - level
		}
	}
	return sum
}

// area within which a star's light is summed, px.
func (f *fitted) area() float64 {
	a, b, _ := f.axes()
	return math.Pi * f.reach * f.reach * a * b
}

// crowding is by how much the background around a star is off beyond noise, since other
// stars, known and unknown, lie in it or in the star's own light: their levels differ by
// that from the one of the field.
func crowding(list []stars.Star, fits []fitted, s detect.Seeing, gain float64) float64 {
	var away, noise []float64
	for i := range fits {
		f := &fits[i]
		pixel := skyErr(&list[f.star], gain) / math.Sqrt(beam(s))
		away = append(away, math.Abs(f.level))
		noise = append(noise, stats.MedianErr*pixel/math.Sqrt(annulusOver*f.area()))
	}
	seen, made := stats.MADToSigma*stats.Median(away), stats.Median(noise)
	return math.Sqrt(max(0, seen*seen-made*made))
}

// beam is the area from which the filter gathers light, px.
func beam(s detect.Seeing) float64 { return 4 * math.Pi * math.Sqrt(s.Xx*s.Yy-s.Xy*s.Xy) }

// roundingOf is by how much the level between two stars may be off where samples are
// rounded to steps that hide the noise: it is the same all over the field, anywhere
// between two of them.
func roundingOf(field *stars.Field, step float64) float64 {
	if field.QuantisedNoise() {
		return step / math.Sqrt(12)
	}
	return 0
}

// The background is that between so many of a star's radii, an area annulusOver times its.
const annulusFrom, annulusTo = 1.25, 2.0
const annulusOver = annulusTo*annulusTo - annulusFrom*annulusFrom

// skyErr is the part of the error of a flux by the filter that the sky makes; the
// star's own photons make the rest.
func skyErr(st *stars.Star, gain float64) float64 {
	v := st.FluxErr * st.FluxErr
	if gain > 0 {
		v -= max(0, st.Flux) / gain
	}
	return math.Sqrt(max(0, v))
}

// plainlyWide is the width of a star, of the median, from which it may have no more than
// the usual weight in the scale of the filter's fluxes.
const plainlyWide = 1.1

// plainlyNarrow is how many times narrower than the median a star may be likewise: between
// the middle of a curved field and its corners are less.
const plainlyNarrow = 1.4

// sampledWidth, px: narrower stars come out the wider the more they fall between pixels.
const sampledWidth = 1.5

// capOdd keeps wide and narrow stars from telling the scale alone. By far the brightest
// star of a field may fill its pixels, where nothing tells that they are full, and is wide
// then, or is a galaxy's core; and what particles leave is narrow, and often brighter than
// any star. The usual width is that of the half of the stars that tells most: fits of faint
// stars among others are wide, too.
func capOdd(w, widths []float64) {
	most := stats.Median(w)
	var telling []float64
	for i := range w {
		if w[i] >= most {
			telling = append(telling, widths[i])
		}
	}
	usual := stats.Median(telling)
	for i := range w {
		if usual > sampledWidth && (widths[i] > plainlyWide*usual || widths[i] < usual/plainlyNarrow) {
			w[i] = min(w[i], most)
		}
	}
}

// calibrateFlux gives the bright fitted stars their fluxes, and brings the others',
// which depend on how well the filter matches the stars, to the same scale by the
// ratio of the two in fitted stars, near and far (see scale). Given is the standard error of ln
// ratio: what neighbours make of it is in the errors of the fitted stars' own fluxes, each its own.
// Knots, which the filter sees the less the wider they are, have fluxes of their own.
// Rounding is by how much the background may be off by that of the samples. The scale is
// told, too, as far as the profile makes it, and what pixels hold beyond.
func calibrateFlux(p *plane.Plane, list []stars.Star, fits, knots []fitted, s detect.Seeing, rounding float64) (scale stars.Scale, filterErr float64) {
	if len(fits) == 0 {
		return scale, uncalibrated
	}
	reach := fits[0].reach
	noise := apertureNoise * reach / leastReach
	k := scaleOf(fits, s, p.W, p.H)
	fits = lonely(list, fits, loneliness(s.Fwhm, reach*fits[0].fwhm()/2))
	crowd := math.Hypot(crowding(list, fits, s, p.Gain), rounding)
	usual := usualRatio(list, fits, &k, noise, crowd, p.Gain)
	for k, f := range slices.Concat(fits, knots) {
		st := &list[f.star]
		narrow := skyErr(st, p.Gain)
		own, wide := math.Hypot(noise*narrow, f.area()*rounding), math.Hypot(noise*narrow, f.area()*crowd)
		if flux := f.flux(); own < stars.Systematic*flux || k >= len(fits) && flux > 0 {
			st.Flux, st.FluxErr, st.OwnFlux = flux, math.Sqrt(wide*wide+st.FluxErr*st.FluxErr-narrow*narrow), true
		}
	}
	for i := range list {
		if st := &list[i]; !st.Saturated && !st.OwnFlux {
			here := math.Exp(usual.V + k.at(st.X, st.Y))
			st.Flux *= here
			st.FluxErr = here * math.Hypot(st.FluxErr, rounding*beam(s))
		}
	}
	return stars.Scale{ProfileErr: k.err, Beyond: usual.V}, usual.Err
}

// usualRatio is ln of the light over the filter's answer of fitted stars, but for what the
// scale over the field makes of it, by pixels of which the sky's noise is so many times
// the filter's and the background is off by crowd.
func usualRatio(list []stars.Star, fits []fitted, k *scale, noise, crowd, gain float64) stats.Value {
	const most = 80 // the brightest: fainter ones hardly weigh
	var ratio, w, errs, widths []float64
	for _, f := range fits[:min(len(fits), most)] {
		st := &list[f.star]
		flux := f.flux()
		if !(st.Flux > 0) || !(flux > 0) {
			continue
		}
		// The photons of the star, and what the filter sees of the sky, are in both. How far
		// neighbours and nebulae put the ratios off their scatter tells, but of few that a
		// bright one outweighs.
		err, beside := math.Sqrt(noise*noise-1)*skyErr(st, gain)/st.Flux, f.area()*crowd/st.Flux
		ratio, w, errs = append(ratio, math.Log(flux/st.Flux)-k.at(st.X, st.Y)), append(w, err*err+beside*beside), append(errs, err*err)
		widths = append(widths, f.fwhm())
	}
	if len(ratio) == 0 {
		return stats.Value{Err: uncalibrated}
	}
	floor := floorOf(ratio, w)
	for i := range w {
		w[i], errs[i] = 1/(w[i]+floor), math.Sqrt(errs[i]+floor)
	}
	capOdd(w, widths)
	return stats.MedianValue(ratio, w, errs, "")
}

// leastFloor is the least by which the logarithms of bright stars' ratios scatter.
const leastFloor = 0.005

// floorOf is the variance of ratios beyond their own, at most that of the systematic error.
func floorOf(ratio, variances []float64) float64 {
	const least, most = leastFloor * leastFloor, stars.Systematic * stars.Systematic
	floor := most
	w, away := make([]float64, len(ratio)), make([]float64, len(ratio))
	for range 6 { // each halves what is left at least
		for i, v := range variances {
			w[i] = 1 / (v + floor)
		}
		middle := stats.WeightedMedian(ratio, w)
		for i, r := range ratio {
			away[i] = r - middle
		}
		floor = min(max(stats.BeyondErrors(away, variances, floor), least), most)
	}
	return floor
}

// lonely are the fits of stars that stand alone; where these are too few, of those that no
// neighbour outshines by far, beside which it would be the neighbour's light that is summed; else all.
func lonely(list []stars.Star, fits []fitted, reach float64) []fitted {
	order := starsOf(fits)
	single := alone(list, order, reach, neighbourShare)
	if len(single) < fewestAlone {
		if single = alone(list, order, reach, outshone); len(single) < fewestAbove {
			return fits
		}
	}
	return slices.DeleteFunc(slices.Clone(fits), func(f fitted) bool { return !slices.Contains(single, f.star) })
}

// alone are those of the chosen stars that have no neighbour of more than such a share of
// their light within reach px.
func alone(list []stars.Star, chosen []int, reach, share float64) (out []int) {
	near := stars.NewNeighbours(list)
	for _, i := range chosen {
		st := &list[i]
		others := 0
		near.Within(st.X, st.Y, reach, func(j int) {
			if j != i && list[j].Flux > share*st.Flux {
				others++
			}
		})
		if others == 0 {
			out = append(out, i)
		}
	}
	return out
}
