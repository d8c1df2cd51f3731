// Package profile measures how stars look: Moffat profiles of one exponent over
// the field, elliptical or drawn along a line, their errors, fluxes and
// half-flux diameters.
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

// Measure fits profiles to the stars that allow it, brings the fluxes to totals
// and measures half-flux diameters; false when no star allows it, with the reason
// in the field.
func (sh *Shaper) Measure(p *plane.Plane, field *stars.Field, list []stars.Star, s detect.Seeing, opt stars.Options) bool {
	sh.p = p
	for i := range list {
		list[i].Unfit()
	}
	chosen := suitable(p, list, s, opt.MaxFits)
	if len(chosen) == 0 {
		field.NoStars("no star stands out")
		if len(list) > 0 {
			field.NoStars("no star is bright, unsaturated and away from the edge")
		}
		return false
	}
	var fits []fitted
	field.CommonErr, field.FluxErr, field.FilterErr = 0, 0, 0
	if !field.Defocused {
		fits = sh.fitAll(field, list, chosen, s)
	}
	diameters(p, list, chosen, fits, s)
	return true
}

// fitted is a star's profile.
type fitted struct {
	star     int // index in the list
	p        params
	trail    bool
	variance float64 // of each component of the ellipticity vector
	widthVar float64 // of ln FWHM, the exponent being known
	misfit   stats.Value
	reach    float64 // half widths within which its light is summed
	excess   float64 // what the pixels there hold more than the profile
}

// stampRadius is how far around a star the fit looks, px: two FWHM along the
// longer axis, as far as these are still the size of a star.
func stampRadius(s detect.Seeing) float64 {
	return min(2*stars.SigmaToFWHM*math.Sqrt(max(s.Xx, s.Yy))+2, 40)
}

// stamp collects the pixels around a star. All weigh the same: weights from
// each pixel's own photon noise would favour the low ones, and the middle of a
// star would come out flat.
func stamp(p *plane.Plane, dst []sample, x, y, radius float64) []sample {
	dst = dst[:0]
	noise := p.Mesh.NoiseAt(x, y)
	w := 1 / (noise * noise)
	for j := max(0, int(math.Ceil(y-radius))); j <= min(p.H-1, int(y+radius)); j++ {
		for i := max(0, int(math.Ceil(x-radius))); i <= min(p.W-1, int(x+radius)); i++ {
			dx, dy := float64(i)-x, float64(j)-y
			if dx*dx+dy*dy <= radius*radius && p.Trusted(i, j) {
				dst = append(dst, sample{float64(i), float64(j), float64(p.R[j*p.W+i]), w})
			}
		}
	}
	return dst
}

// fitAll fits the chosen stars with an elliptical profile. Where the field
// shows better with a round one drawn along a line, the direction and the
// elongation are those of the line; size and flux stay those of the elliptical
// profile, so that one definition of either holds for all subs. The elongation of
// a line is told by its second moment, which profiles with an exponent of 2 or
// less (1/beta from 0.5 on) do not have: these stay elliptical.
func (sh *Shaper) fitAll(field *stars.Field, list []stars.Star, chosen []int, s detect.Seeing) []fitted {
	fits, common := sh.fitModel(list, chosen, s, seedOf(s), false)
	if sh.p.Gain > 0 { // else the photons' noise is unknown
		fits = flagMisfits(list, fits, sh.p.W, sh.p.H)
	}
	field.CommonErr = common.widthErr
	if len(fits) > 0 {
		field.FluxErr = withinErr(common, fits[0].reach)
	}
	if undersampled(sh.p, fits) {
		sh.force(list, fits)
	}
	field.FilterErr = calibrateFlux(list, fits, s.Fwhm, sh.p.Gain)
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
	around := p.Around(2 * radius)
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
			level := p.Annulus(fit.p[0], fit.p[1], 1.25*radius, 2*radius)
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

// thinnest is the half width at half maximum, px, that the image of a star has at least.
// Lines of 0.2 px, the thinnest that a fit tries, are where one ended that lost
// its star, and the next star's would start.
const thinnest = 0.25

// plausible tells whether a fit stayed with its star.
func (f *fitted) plausible(st *stars.Star, s detect.Seeing) bool {
	a, b, _ := f.axes()
	size := 2 * math.Sqrt(a*b)
	return math.Hypot(f.p[0]-st.X, f.p[1]-st.Y) < 0.5*s.Fwhm+0.5 && size < 3*s.Fwhm && size > s.Fwhm/4 && b > thinnest
}

// axes gives the half widths at half maximum and the angle of the longer one.
// For a profile drawn along a line they are those of the Gaussian with the same
// second moments: a trail of length L adds L²/12 along it.
func (f *fitted) axes() (a, b, angle float64) {
	if !f.trail {
		m := Moffat{Cxx: f.p[4], Cxy: f.p[5], Cyy: f.p[6]}
		return m.axes()
	}
	b = 1 / math.Sqrt(f.p[4])
	l2 := f.p[5]*f.p[5] + f.p[6]*f.p[6]
	// Half width to sd: over sqrt(2 ln 2).
	a = math.Sqrt(b*b + 2*math.Ln2*l2/12)
	return a, b, stars.Wrap90(math.Atan2(f.p[6], f.p[5]) * 180 / math.Pi)
}

// profile is the fit as a round or elliptical Moffat, for its flux.
func (f *fitted) profile() Moffat {
	m := Moffat{amplitude: f.p[2], floor: f.p[3], Cxx: f.p[4], Cxy: f.p[5], Cyy: f.p[6], q: f.p[7]}
	if f.trail {
		m.Cxy, m.Cyy = 0, f.p[4]
	}
	return m
}

// fwhm is the geometric mean of the full widths at half maximum along and
// across. Those of a profile drawn along a line are looked up on the profile
// itself: its top is flatter than any Moffat's, so that its moments do not tell
// its width.
func (f *fitted) fwhm() float64 {
	if !f.trail {
		a, b, _ := f.axes()
		return 2 * math.Sqrt(a*b)
	}
	length := math.Hypot(f.p[5], f.p[6])
	level := func(along, across float64) float64 {
		var sum float64
		for _, g := range gauss[8] {
			d := along - g.t*length
			k := math.Exp2(f.p[7]) - 1
			sum += g.w * math.Exp(-math.Log1p(k*f.p[4]*(d*d+across*across))/f.p[7])
		}
		return sum
	}
	half := level(0, 0) / 2
	b := 1 / math.Sqrt(f.p[4])
	width := func(at func(float64) float64) float64 {
		lo, hi := 0.0, 2*b+length
		for range 20 {
			if m := (lo + hi) / 2; at(m) > half {
				lo = m
			} else {
				hi = m
			}
		}
		return lo + hi
	}
	along := width(func(x float64) float64 { return level(x, 0) })
	across := width(func(x float64) float64 { return level(0, x) })
	return math.Sqrt(along * across)
}

// adopt takes over the figures of a fit.
func adopt(st *stars.Star, f *fitted) {
	a, b, angle := f.axes()
	st.X, st.Y = f.p[0], f.p[1]
	st.Fitted = true
	st.FWHM, st.Beta, st.Ellipticity, st.Angle, st.ShapeErr = f.fwhm(), 1/f.p[7], 1-b/a, angle, math.Sqrt(f.variance)
	st.FWHMErr = st.FWHM * math.Sqrt(f.widthVar)
}

// halfWidths2 is the square of a pixel's distance from the centre of an elliptical
// profile, in half widths at half maximum.
func (p *params) halfWidths2(s sample) float64 {
	dx, dy := s.x-p[0], s.y-p[1]
	return p[4]*dx*dx + 2*p[5]*dx*dy + p[6]*dy*dy
}

// at places a profile on a star.
func (p params) at(st *stars.Star) params {
	p[0], p[1], p[2], p[3] = st.X, st.Y, max(st.Peak, 1e-12), 0
	return p
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
