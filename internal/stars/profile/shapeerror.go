package profile

import (
	"math"
	"slices"
)

// shapeVariance is the variance of each component of the ellipticity vector (e
// cos 2 theta, e sin 2 theta) and that of ln FWHM of a fit whose exponent is
// known, propagated from the noise of the pixels: that of the sky, and in the
// star more, in proportion to its light as much as chi² asks for, or the gain
// (NaN: not known) tells. p is what the last fit of the stamp left.
func (f *fitter) shapeVariance(stamp []sample, p *params, gain float64) (ellipticity, width float64) {
	const n = nParams - 1
	var lever [3]params // how each answers to the pixels' gradients
	here := f.shape(p)
	for k := 4; k < 7; k++ {
		q := *p
		h := 1e-4 * (math.Abs(p[k]) + 1e-2*math.Abs(p[4]))
		q[k] += h
		for c, there := range f.shape(&q) {
			lever[c][k] = (there - here[c]) / h
		}
	}
	// The sum over the pixels of w (l g)², g their gradients, is l N l, N the normal
	// equations; with the star's light as a further weight it needs others.
	bright, light := f.weighedByLight(stamp, p)
	var sky, star [3]float64
	for c := range lever {
		slope, m := lever[c], f.normals
		if !solve(&m, &lever[c], n) {
			return 1, 1
		}
		for i := range n {
			sky[c] += lever[c][i] * slope[i]
			for j := range n {
				star[c] += lever[c][i] * lever[c][j] * bright[max(i, j)][min(i, j)]
			}
		}
	}
	perUnit := max(0, (f.chi2-float64(len(stamp)-n))/light)
	if gain > 0 {
		perUnit = max(perUnit, 1/gain)
	}
	var variance [3]float64
	for c := range variance {
		variance[c] = sky[c] + perUnit*star[c]
	}
	return (variance[0] + variance[1]) / 2, variance[2]
}

// weighedByLight is the left side of the normal equations of the last fit, every pixel
// weighed by the star's light in it on top; and the sum of this light.
func (f *fitter) weighedByLight(stamp []sample, p *params) (products [nParams]params, sum float64) {
	f.bright = slices.Grow(f.bright[:0], len(stamp))[:len(stamp)]
	for i, s := range stamp {
		light := s.w * p[2] * f.table[i][2] // the derivative by the amplitude is the profile itself
		f.bright[i].w = s.w * light
		sum += light
	}
	normalProducts(f.table, f.bright, &products)
	return products, sum
}

// shape is the ellipticity vector and ln FWHM of a profile.
func (f *fitter) shape(p *params) [3]float64 {
	fit := fitted{p: *p, trail: f.trail}
	a, b, angle := fit.axes()
	s, c := math.Sincos(2 * angle * math.Pi / 180)
	return [3]float64{(1 - b/a) * c, (1 - b/a) * s, f.lnWidth(p)}
}

// lnWidth is ln FWHM of a profile, but for a constant: of the geometric mean of
// its axes, or of the round one drawn along a line.
func (f *fitter) lnWidth(p *params) float64 {
	if f.trail {
		return -math.Log(p[4]) / 2
	}
	return -math.Log(p[4]*p[6]-p[5]*p[5]) / 4
}
