package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
)

// merging is how far from a star, in FWHM, another one adds to its light.
const merging = 1.5

// findMerged tells which stars stand too close to another, that sharper subs show,
// to be told apart in each sub. What is measured of them there goes with the
// seeing: their errors are raised.
func (z *zeroPoints) findMerged() {
	all := make([]stars.Star, len(z.place))
	for _, obs := range z.obs {
		for _, o := range obs {
			all[o.star] = stars.Star{X: z.place[o.star].x, Y: z.place[o.star].y, Flux: max(all[o.star].Flux, math.Exp(o.ln))}
		}
	}
	z.merged = make([][]bool, len(z.fields))
	near := stars.NewNeighbours(all)
	fainter := fainterLight(all)
	z.eachField(func(j int) {
		f := z.fields[j]
		z.merged[j] = make([]bool, len(all))
		if z.why[j] != "" || !f.FWHM.OK() {
			return
		}
		reach := merging * f.FWHM.V
		for i, s := range all {
			near.Within(s.X, s.Y, reach, func(k int) {
				if k != i && all[k].Flux > 0.03*s.Flux {
					z.merged[j][i] = true
				}
			})
		}
		for k := range z.obs[j] {
			o := &z.obs[j][k]
			if z.merged[j][o.star] {
				o.sigma = math.Hypot(o.sigma, besides)
			}
			o.confused = beam * f.FWHM.V * f.FWHM.V * fainter[o.star] / all[o.star].Flux
			o.sigma = math.Hypot(o.sigma, o.confused)
		}
	})
}

// beam is the area from which the filter gathers light, in FWHM²: that of a Gaussian
// of sqrt(2) times the stars' width. As much of the light of fainter stars as lies on it
// by the mean of the field is what a star's own may be off by, in it or in what is taken
// for the background.
const beam = math.Pi / (2 * math.Ln2)

// fainterLight is the light per px² of all stars fainter than each.
func fainterLight(all []stars.Star) []float64 {
	order := stars.Brightest(all)
	low, high := place{math.Inf(1), math.Inf(1)}, place{math.Inf(-1), math.Inf(-1)}
	for _, s := range all {
		low, high = place{min(low.x, s.X), min(low.y, s.Y)}, place{max(high.x, s.X), max(high.y, s.Y)}
	}
	area := max(1, (high.x-low.x)*(high.y-low.y))
	out, sum := make([]float64, len(all)), 0.0
	for _, i := range slices.Backward(order) {
		out[i] = sum / area
		sum += all[i].Flux
	}
	return out
}
