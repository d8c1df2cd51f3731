package profile

import (
	"math"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The flux of a star is all its light: of bright fitted stars, what the pixels
// within two FWHM hold above the background around, over the share of a profile's
// light that lies there; of all others, the filter's answer in the proportion that
// the fitted ones tell. Bright are those of which the sky's noise in so many pixels
// makes less than what no noise explains anyhow (systematic).

const (
	// widestWings is the 1/beta up to which the wings of a profile are believed:
	// those of the atmosphere have betas from 3 to 4.8 (Trujillo et al. 2001, MNRAS
	// 328, 977). Images that a fit makes broader have shoulders, from jitter or
	// defocus, that end.
	widestWings = 1. / 3
	// apertureNoise is the noise of such a flux over that of the filter's answer,
	// which comes from 4 pi sigma² px: of four times pi FWHM² px, and of the median
	// of some ten times pi FWHM².
	apertureNoise = 3.0
	// uncalibrated is by how much ln of the flux under the filter may be off where
	// no star could be fitted.
	uncalibrated = 0.3
)

// flux of a fitted star.
func (f *fitted) flux() float64 {
	m := f.profile()
	return (m.flux()*enclosed(m.q, 4) + f.excess) / within(m.q)
}

// within is the share of a profile's light that lies within two FWHM.
func within(q float64) float64 { return enclosed(min(q, widestWings), 4) }

// withinErr is the error of ln flux that the exponent's makes.
func withinErr(e exponent) float64 {
	low, high := max(e.q-e.err, qMin), max(e.q+e.err, 2*qMin)
	return math.Log(within(low)/within(high)) / (high - low) * e.err
}

// excess is the sum, over the pixels within two FWHM of the centre, of what they
// hold more than the profile on a background of the given level. The stamp is
// that of the last normal equations.
func (f *fitter) excess(stamp []sample, p *params, level float64) (sum float64) {
	for i, s := range stamp {
		if p.halfWidths2(s) <= 4*4 {
			sum += f.table[i][nParams-1] + p[3] - level
		}
	}
	return sum
}

// skyErr is the part of the error of a flux by the filter that the sky makes; the
// star's own photons make the rest.
func skyErr(st *stars.Star, gain float64) float64 {
	v := st.FluxErr * st.FluxErr
	if gain > 0 {
		v -= max(0, st.Flux) / gain
	}
	return math.Sqrt(max(0, v))
}

// calibrateFlux gives the bright fitted stars their fluxes, and brings the others',
// which depend on how well the filter matches the stars, to the same scale by the
// ratio of the two in fitted stars. The standard error of ln ratio is given.
func calibrateFlux(list []stars.Star, fits []fitted, fwhm, gain float64) float64 {
	fits = lonely(list, fits, fwhm)
	var ratio, w, errs []float64
	for _, f := range fits[:min(len(fits), 80)] {
		st := &list[f.star]
		flux := f.flux()
		if !(st.Flux > 0) || !(flux > 0) {
			continue
		}
		// The photons of the star, and what the filter sees of the sky, are in both.
		err := math.Sqrt(apertureNoise*apertureNoise-1) * skyErr(st, gain) / st.Flux
		ratio, w, errs = append(ratio, math.Log(flux/st.Flux)), append(w, 1/(err*err+stars.Systematic*stars.Systematic)), append(errs, err)
	}
	k := stats.Value{Err: uncalibrated}
	if len(ratio) > 0 {
		k = stats.MedianValue(ratio, w, errs, "")
	}
	for _, f := range fits {
		st := &list[f.star]
		narrow := skyErr(st, gain)
		wide := apertureNoise * narrow
		if flux := f.flux(); wide < stars.Systematic*flux {
			st.Flux, st.FluxErr, st.OwnFlux = flux, math.Sqrt(wide*wide+st.FluxErr*st.FluxErr-narrow*narrow), true
		}
	}
	for i := range list {
		if st := &list[i]; !st.Saturated && !st.OwnFlux {
			st.Flux *= math.Exp(k.V)
			st.FluxErr *= math.Exp(k.V)
		}
	}
	return k.Err
}

// lonely are the fits of stars that have no neighbour of a fiftieth of their light
// within four FWHM, where it would fall into their apertures or on what is taken
// for the background; all, where these are too few.
func lonely(list []stars.Star, fits []fitted, fwhm float64) []fitted {
	const share, fewest = 0.02, 10
	reach := 4 * fwhm
	near := stars.NewNeighbours(list, reach)
	var alone []fitted
	for _, f := range fits {
		st := &list[f.star]
		others := 0
		near.Within(st.X, st.Y, reach, func(j int) {
			if j != f.star && list[j].Flux > share*st.Flux {
				others++
			}
		})
		if others == 0 {
			alone = append(alone, f)
		}
	}
	if len(alone) < fewest {
		return fits
	}
	return alone
}
