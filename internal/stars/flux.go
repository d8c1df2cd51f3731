package stars

import (
	"math"

	"fitsqa/internal/stats"
)

// The flux of a star is what lies within two FWHM of its centre: a radius in
// units of the width holds the same share of the light at any seeing, and what
// is beyond hangs on the exponent. Of fitted stars of good signal it is taken from
// the pixels within one FWHM, and from the profile's share between there and two;
// of all others, from the filter's answer, in the brightest ones' proportion.

// goodSignal is the signal to noise from which a star's width, which its flux goes
// with, is known to 7 %.
const goodSignal = 20

// uncalibrated is by how much ln of the flux under the filter may be off where
// no star could be fitted.
const uncalibrated = 0.3

// flux of a fitted star.
func (f *fitted) flux() float64 {
	m := f.profile()
	return (m.flux()*enclosed(m.q, 2) + f.excess) * beyond(m.q)
}

// beyond is the flux within two FWHM over that within one.
func beyond(q float64) float64 { return enclosed(q, 4) / enclosed(q, 2) }

// beyondErr is the error of ln flux that the exponent's makes.
func beyondErr(e exponent) float64 {
	low, high := max(e.q-e.err, qMin), min(e.q+e.err, 0.9)
	return math.Log(beyond(high)/beyond(low)) / (high - low) * e.err
}

// excess is the sum, over the pixels within one FWHM of the centre, of what is
// left of the stamp that the last normal equations were built for.
func (f *fitter) excess(stamp []sample, p *params) (sum float64) {
	for i, s := range stamp {
		dx, dy := s.x-p[0], s.y-p[1]
		if p[4]*dx*dx+2*p[5]*dx*dy+p[6]*dy*dy <= 4 { // half widths at half maximum, squared
			sum += f.table[i][nParams-1]
		}
	}
	return sum
}

// apertureNoise is the noise of the pixels within one FWHM over that of the
// filter's answer: their number, pi FWHM², over the filter's, 4 pi sigma².
const apertureNoise = sigmaToFWHM / 2

// calibrateFlux gives the fitted stars of good signal their fluxes, and brings the others', which
// depend on how well the filter matches the stars, to the same scale by the ratio
// of the two in the brightest stars. The standard error of ln ratio is given.
func calibrateFlux(list []Star, fits []fitted) float64 {
	var ratio, w, errs []float64
	for _, f := range fits[:min(len(fits), 80)] {
		st := &list[f.star]
		flux := f.flux()
		if !(st.Flux > 0) || !(flux > 0) {
			continue
		}
		err := st.FluxErr / st.Flux
		ratio, w, errs = append(ratio, math.Log(flux/st.Flux)), append(w, 1/(err*err+systematic*systematic)), append(errs, err)
	}
	k := stats.Value{Err: uncalibrated}
	if len(ratio) > 0 {
		k = medianValue(ratio, w, errs, "")
	}
	for i := range list {
		if !list[i].Saturated {
			list[i].Flux *= math.Exp(k.V)
			list[i].FluxErr *= math.Exp(k.V)
		}
	}
	for _, f := range fits {
		if st := &list[f.star]; st.SNR >= goodSignal && f.flux() > 0 {
			st.Flux = f.flux()
			st.FluxErr *= apertureNoise
		}
	}
	return k.Err
}
