package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A fit leaves this share of a star's squared light, and this many times what
// noise and the field's other stars make likely, when it is not one star.
const (
	misfitShare = 0.01
	misfitSigma = 6
)

// misfit is the share of a star's squared light within one and a half FWHM that
// a fit leaves beyond noise, and its standard error. The stamp is that of the last
// fit. The misfit of two like stars half a FWHM apart is nil, as an
// elongated profile is as good; it rises to a tenth where the second stands out
// beside the first.
func (f *fitter) misfit(stamp []sample, p *params, gain float64) stats.Value {
	var chi2, light, photons, n float64
	for i, s := range stamp {
		if p.halfWidths2(s) > 3*3 {
			continue
		}
		v, left := p[2]*f.table[i][2], f.table[i][residual]
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
func flagMisfits(list []stars.Star, fits []fitted, w, h int) []fitted {
	const side, fewest = 3, 5
	part := func(f *fitted) int { return stars.PartOf(f.p[0], f.p[1], w, h, side) }
	parts := make([][]float64, side*side)
	for i := range fits {
		c := part(&fits[i])
		parts[c] = append(parts[c], fits[i].misfit.V)
	}
	usual := stars.UsualOf(parts, fewest)
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
		list[f.star].Unfit()
	}
	return single
}
