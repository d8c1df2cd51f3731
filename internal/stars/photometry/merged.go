package photometry

import (
	"math"

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
			if o := &z.obs[j][k]; z.merged[j][o.star] {
				o.sigma = math.Hypot(o.sigma, besides)
			}
		}
	})
}
