package plate

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

const leastStars = 4

// ZeroPoint is the magnitude of a star that gives one unit of light a second, by a
// frame's unsaturated stars that are the catalogue's: rate is what one unit of the frame
// is in units a second (e-/ADU over the exposure, or one over the exposure). N is the
// stars behind it, and the error their scatter over the root of N with what all stars'
// fluxes have in common.
//
// Magnitudes are V_T whatever the filter: through another, the zero point holds an
// offset for the mean colour of stars that is constant for a set-up, and their scatter
// is wider. The mean is weighted by the errors of flux and catalogue and 0.1 mag for
// colours, beyond 3 robust sigma left out.
func (s *Solution) ZeroPoint(f *stars.Field, rate float64) stats.Value {
	if !(rate > 0) || math.IsInf(rate, 0) {
		return stats.Missing(ExposureUnknown)
	}
	var zero, weight []float64
	for _, p := range s.Pairs {
		st := &f.Stars[p.Star]
		if st.Saturated || st.Blended || !(st.Flux > 0) || !(st.FluxErr > 0) {
			continue
		}
		err := math.Hypot(math.Hypot(catalogueErr(p.Cat.Mag), colours), 1.0857*st.FluxErr/st.Flux)
		zero = append(zero, p.Cat.Mag+2.5*math.Log10(st.Flux*rate))
		weight = append(weight, 1/(err*err))
	}
	if len(zero) < leastStars {
		return stats.Missing(FewUnsaturated, fact.Count("stars", len(zero)), fact.Count("needed", leastStars))
	}
	mean, err, n := robustMean(zero, weight)
	if n < leastStars {
		return stats.Missing(MagnitudesDisagree)
	}
	return stats.Known(mean, math.Hypot(err, 1.0857*f.FluxErr), n)
}

// colours is by how much stars' colours make their light differ from V_T's, in the least
// (common practice, no source).
const colours = 0.1

// catalogueErr is the standard error of a catalogue magnitude: 0.013 above V_T 9, and 0.1
// at 11.5, where half of the stars are fainter (ends from memory of Høg et al. 2000, a
// power law between them).
func catalogueErr(mag float64) float64 { return math.Max(0.013, 0.013*math.Pow(10, 0.354*(mag-9))) }

// robustMean is the weighted mean without what lies beyond 3 robust sigma of the median.
func robustMean(x, weight []float64) (mean, err float64, n int) {
	middle, sigma := stats.Median(x), math.Max(stats.MADSigma(x), 1e-3)
	var sum, w, squares float64
	for i, v := range x {
		if math.Abs(v-middle) <= 3*sigma {
			sum, w, n = sum+weight[i]*v, w+weight[i], n+1
		}
	}
	mean = sum / w
	for i, v := range x {
		if math.Abs(v-middle) <= 3*sigma {
			squares += weight[i] * (v - mean) * (v - mean)
		}
	}
	return mean, math.Sqrt(squares / w / math.Max(1, float64(n-1))), n
}

// SurfaceBrightness of light of so many units a second and pixel, mag per square arcsec.
func SurfaceBrightness(zero, rate stats.Value, scale float64) stats.Value {
	switch {
	case !zero.OK():
		return stats.Because(zero.Why)
	case !rate.OK():
		return stats.Because(rate.Why)
	case !(rate.V > 0):
		return stats.Missing(SkyNotAbove)
	}
	err := math.Hypot(zero.Err, 1.0857*rate.KnownErr()/rate.V)
	return stats.Known(zero.V-2.5*math.Log10(rate.V/(scale*scale)), err, zero.N)
}

// Limiting magnitude: of a star whose light is 5 times the noise under a matched filter.
// A Gaussian of a FWHM in px spreads over 2.266 FWHM² px of noise (King 1983, PASP 95,
// 163, from memory); noise is that of a pixel, in units a second.
func Limiting(zero stats.Value, noise, fwhm float64) stats.Value {
	if !zero.OK() {
		return stats.Because(zero.Why)
	}
	if !(noise > 0) || !(fwhm > 0) {
		return stats.Missing(NoiseOrWidth)
	}
	return stats.Known(zero.V-2.5*math.Log10(5*noise*math.Sqrt(2.266)*fwhm), zero.Err, zero.N)
}

// SurfaceLimit is the surface brightness that is 3 times the noise in 10 by 10 arcsec.
func SurfaceLimit(zero stats.Value, noise, scale float64) stats.Value {
	if !zero.OK() {
		return stats.Because(zero.Why)
	}
	if !(noise > 0) {
		return stats.Missing(NoiseUnknown)
	}
	// Noise of a sum of n px is √n of one's; the area has 100/scale² px.
	return stats.Known(zero.V-2.5*math.Log10(3*noise/(10*scale)), zero.Err, zero.N)
}
