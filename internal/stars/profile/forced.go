package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// Where stars are hardly wider than the measured pixels are apart, what the filter
// answers varies by a quarter with the place of a star's middle between them. There
// the flux of every star that is not bright enough for its own pixels' sum is the
// height that the field's usual profile has at its place, by least squares over the
// pixels that it lights.

// fewSamples and fewGreens are the FWHM, px, below which the filter is not believed: from
// there its answers scatter by less than 3 %. Between the green pixels of a mosaic it looks
// at their means, which know nothing of a narrow star's peak.
const fewSamples, fewGreens = 1.2, 2.1

// undersampled tells whether the field's stars are that narrow.
func undersampled(p *plane.Plane, fits []fitted) bool {
	if len(fits) == 0 {
		return false
	}
	var width []float64
	for i := range fits {
		width = append(width, fits[i].fwhm())
	}
	least := fewSamples
	if p.Density() < 1 {
		least = fewGreens
	}
	return stats.Median(width) < least
}

// force gives every unsaturated star the flux of the usual profile at its place.
func (sh *Shaper) force(list []stars.Star, fits []fitted) {
	usual := fits[0].p
	for k := 4; k < 7; k++ {
		var v []float64
		for i := range fits {
			v = append(v, fits[i].p[k])
		}
		usual[k] = stats.Median(v)
	}
	fit := fitted{p: usual}
	size := fit.fwhm()
	sh.f.radial.set(usual[7])
	for i := range list {
		st := &list[i]
		fit.p[0], fit.p[1], fit.p[2] = st.X, st.Y, 0
		if st.Saturated || !sh.place(&fit.p, 1.5*size+1, sh.p.Annulus(st.X, st.Y, 3*size+2, 4*size+5)) {
			continue
		}
		m := fit.profile()
		st.X, st.Y, st.Flux = fit.p[0], fit.p[1], m.flux()
	}
}

// place fits the height and the middle of a profile of known shape, on a background of
// the given level, to the pixels within a radius; false when it leaves its place or has
// no height.
func (sh *Shaper) place(p *params, radius, level float64) bool {
	const n = 3 // height, x, y
	x0, y0 := p[0], p[1]
	sh.buf = stamp(sh.p, sh.buf, x0, y0, radius)
	for range 6 {
		var a [nParams][nParams]float64
		var b, grad params
		for _, s := range sh.buf {
			g := sh.f.value(p, s.x, s.y, &grad)
			by := [n]float64{g, p[2] * grad[0], p[2] * grad[1]}
			for i := range n {
				for j := range n {
					a[i][j] += by[i] * by[j]
				}
				b[i] += by[i] * (s.v - level - p[2]*g)
			}
		}
		if p[2] == 0 { // the height first
			p[2] = b[0] / a[0][0]
			continue
		}
		if !solve(&a, &b, n) {
			return false
		}
		p[2], p[0], p[1] = p[2]+b[0], p[0]+b[1], p[1]+b[2]
		if !(math.Hypot(p[0]-x0, p[1]-y0) < 1) {
			return false
		}
	}
	return p[2] > 0
}
