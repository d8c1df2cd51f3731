package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stats"
)

// Optics and air scatter light farther than any profile of the core tells, and neighbours
// and the background between them are in every sum: how much a star has depends on how
// far its light is summed, which goes with the seeing. By how much it grows with the
// aperture, the brightest stars tell of each field.

// growthMost is how many stars tell it: fainter ones add noise.
const growthMost = 24

// growthOf is by how much ln of the light of fitted stars grows from their aperture to one
// √2 times as wide, and to one twice as wide. The level around is taken as beside any star
// whose aperture is that wide. What lies beyond the aperture the middle pixels of rings tell:
// neighbours, of which a ring holds one or two, are not what the star scatters.
func (sh *Shaper) growthOf(list []stars.Star, fits []fitted, s detect.Seeing) (of stars.Growth) {
	if len(fits) == 0 {
		return of
	}
	p := sh.p
	of.Aperture = fits[0].radius()
	var ln, errs [len(stars.GrowthTimes)][]float64
	for n, f := range lonely(list, fits, loneliness(s.Fwhm, of.Aperture)) {
		x, y, from, flux := f.p[0], f.p[1], of.Aperture, f.flux()
		if n == growthMost || !(flux > 0) {
			break
		}
		m := f.profile()
		held, level, area := flux*within(m.q, f.reach), f.level, math.Pi*from*from
		for k, times := range stars.GrowthTimes {
			to := of.Aperture * times
			if !sh.inside(x, y, to) {
				break
			}
			here := p.Annulus(x, y, annulusFrom*to, annulusTo*to)
			held += area * (level - here)
			for _, r := range []float64{math.Sqrt(from * to), to} {
				ring := math.Pi * (r*r - from*from)
				held, area = held+ring*(p.Annulus(x, y, from, r)-here), area+ring
				from = r
			}
			level = here
			if more := held / within(m.q, f.reach*times); more > 0 {
				ln[k] = append(ln[k], math.Log(more/flux))
				errs[k] = append(errs[k], apertureNoise*times*f.reach/leastReach*skyErr(&list[f.star], p.Gain)/flux)
			}
		}
	}
	for k := range ln {
		w := make([]float64, len(errs[k]))
		for i, e := range errs[k] {
			w[i] = 1 / (e*e + stars.Systematic*stars.Systematic)
		}
		of.Ln[k] = stats.MedianValue(ln[k], w, errs[k], "")
	}
	return of
}

// radius of the aperture of a star, px.
func (f *fitted) radius() float64 { return f.reach * f.fwhm() / 2 }

// inside tells whether an aperture lies within the frame.
func (sh *Shaper) inside(x, y, radius float64) bool {
	return x >= radius && y >= radius && x <= float64(sh.p.W-1)-radius && y <= float64(sh.p.H-1)-radius
}
