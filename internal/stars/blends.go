package stars

import (
	"math"

	"fitsqa/internal/stats"
)

// Stars that stand so close that each has a part of the other's light are found in
// three ways: two detections near each other; one that is broader under the filter
// than its like; and one that no single star fits.

// flagBroad marks stars that are broader than those of their part of the field:
// pairs too close for the search to part. Seen through the filter, two like
// stars one FWHM apart have 1.3 times the mean square radius of one. What
// centring, noise and the place within a pixel do to single stars is told by
// those below the median, where there are no pairs.
func (p *plane) flagBroad(list []Star, spreads []float64) {
	const side = 4
	parts := make([][]float64, side*side)
	part := func(st *Star) int { return partOf(st.X, st.Y, p.w, p.h, side) }
	good := 0
	for i := range list {
		if c := part(&list[i]); list[i].SNR > 20 {
			parts[c] = append(parts[c], spreads[i])
			good++
		}
	}
	if good < 5 {
		return
	}
	usual := usualOf(parts, 15)
	above := func(i int) float64 { return spreads[i]/usual[part(&list[i])] - 1 }
	const noise = 2.0 // over signal to noise: two to three sigma of the spread
	var below []float64
	for i := range list {
		if a := above(i); a < 0 && list[i].SNR > 20 {
			below = append(below, -a-noise/list[i].SNR)
		}
	}
	margin := 0.05
	if len(below) > 0 {
		margin = max(margin, 1.5*stats.Quantile(below, 0.95))
	}
	for i := range list {
		if above(i) > margin+noise/list[i].SNR {
			list[i].Blended = true
		}
	}
}

// flagBlends marks stars whose neighbour puts a noticeable part of its light on them.
func (p *plane) flagBlends(list []Star, s seeing) {
	reach := 2.5 * s.fwhm
	ix := newNeighbours(list, reach)
	for i := range list {
		ix.within(list[i].X, list[i].Y, reach, func(j int) {
			o := &list[j]
			if j == i {
				return
			}
			d := math.Hypot(o.X-list[i].X, o.Y-list[i].Y) / s.fwhm
			// The neighbour's wing at the star's place, as a Moffat of
			// exponent 3, against a twentieth of the star's own height.
			wing := math.Pow(1+1.04*d*d, -3)
			if o.Flux*wing*6 > 0.05*list[i].Flux {
				list[i].Blended = true
			}
		})
	}
}

// A fit leaves this share of a star's squared light, and this many times what
// noise and the field's other stars make likely, when it is not one star.
const (
	misfitShare = 0.01
	misfitSigma = 6
)

// misfit is the share of a star's squared light within one and a half FWHM that
// a fit leaves beyond noise, and its standard error. The stamp is that of the last
// normal equations. The misfit of two like stars half a FWHM apart is nil, as an
// elongated profile is as good; it rises to a tenth where the second stands out
// beside the first.
func (f *fitter) misfit(stamp []sample, p *params, gain float64) stats.Value {
	var chi2, light, photons, n float64
	for i, s := range stamp {
		if p.halfWidths2(s) > 3*3 {
			continue
		}
		v, left := p[2]*f.table[i][2], f.table[i][nParams-1]
		chi2 += s.w * left * left
		light += s.w * v * v
		photons += s.w * v / gain
		n++
	}
	// Its chi² has a variance of 2 n from the noise, and of four times the sum where
	// that of the star's photons comes on top.
	return stats.Known((chi2-max(0, n-nParams)-photons)/light, math.Sqrt(2*n+4*photons)/light, int(n))
}

// flagMisfits marks those of the fitted stars that are two by their misfit, and
// gives the others. Compared are the stars of one of 3 x 3 parts of the field, as
// the images in its corners may be less like the profile than others.
func flagMisfits(list []Star, fits []fitted, w, h int) []fitted {
	const side, fewest = 3, 5
	part := func(f *fitted) int { return partOf(f.p[0], f.p[1], w, h, side) }
	parts := make([][]float64, side*side)
	for i := range fits {
		c := part(&fits[i])
		parts[c] = append(parts[c], fits[i].misfit.V)
	}
	usual := usualOf(parts, fewest)
	var apart []float64 // from the usual
	for i := range fits {
		apart = append(apart, fits[i].misfit.V-usual[part(&fits[i])])
	}
	scatter := stats.MADSigma(apart)
	var single, double []fitted
	for i, f := range fits {
		if apart[i] > max(misfitShare, misfitSigma*math.Hypot(scatter, f.misfit.Err)) {
			double = append(double, f)
		} else {
			single = append(single, f)
		}
	}
	if len(single) < 10 || len(single) < len(double) {
		return fits
	}
	for _, f := range double {
		list[f.star].Blended = true
		list[f.star].unfit()
	}
	return single
}
