package stars

import (
	"math"
	"slices"

	"fitsqa/internal/stats"
)

// figures fills the field's medians from the stars that were fitted.
func (f *Field) figures(list []Star) {
	var fitted []*Star
	var hfd, fwhm, ell, w, widthErr, ellErr []float64
	for i := range list {
		st := &list[i]
		if !math.IsNaN(st.HFD) {
			hfd = append(hfd, st.HFD)
		}
		if st.Fitted {
			fitted = append(fitted, st)
			fwhm, ell, w = append(fwhm, st.FWHM), append(ell, st.Ellipticity), append(w, st.weight())
			widthErr, ellErr = append(widthErr, st.FWHMErr), append(ellErr, st.ShapeErr)
		}
	}
	f.HFD = medianValue(hfd, nil, nil, "no half-flux diameter could be measured")
	why := "no star could be fitted"
	if f.Defocused {
		why = "the images are rings, far out of focus: only the half-flux diameter has a meaning"
	}
	if len(fitted) == 0 {
		f.FWHM, f.Ellipticity, f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why), stats.Missing(why), stats.Missing(why)
		return
	}
	f.FWHM = medianValue(fwhm, w, widthErr, why)
	f.FWHM.Err = math.Hypot(f.FWHM.Err, f.FWHM.V*f.CommonErr)
	f.direction(fitted, medianValue(ell, w, ellErr, why))
}

// weight of a star in the field's medians. Errors beyond 2 %, where stars differ
// by themselves, count.
func (st *Star) weight() float64 { return 1 / (st.ShapeErr*st.ShapeErr + 0.02*0.02) }

// direction fills ellipticity, angle and coherence from the ellipticity vectors
// (e cos 2 theta, e sin 2 theta).
//
// Noise makes round stars look elongated. With errors of sd s in each component
// the median length m of the vectors follows Rice's law, near zero m² = e² + 2
// ln 2 s² (Rayleigh's median), and the length of their mean exceeds the true one
// by 2 s²/n in the square. Both shares are taken off. Where the two figures
// agree within the errors, all stars being alike, the mean is the surer one;
// where the median length is larger, stars point different ways and it is the
// typical ellipticity.
func (f *Field) direction(fitted []*Star, raw stats.Value) {
	var sw, sww, sx, sy, se, sv float64
	for _, st := range fitted {
		w := st.weight()
		x, y := st.vector()
		sw += w
		sww += w * w
		sx += w * x
		sy += w * y
		se += w * st.Ellipticity
		sv += w * st.ShapeErr * st.ShapeErr
	}
	mx, my, mean, noise := sx/sw, sy/sw, se/sw, sv/sw
	n := sw * sw / sww // effective number of stars
	var scatter float64
	for _, st := range fitted {
		x, y := st.vector()
		scatter += st.weight() * ((x-mx)*(x-mx) + (y-my)*(y-my)) / 2
	}
	scatter /= sw // variance of one component of one star
	// Few stars may agree by chance.
	errMean := math.Sqrt(max(scatter/max(1, n-1), noise/n))
	length := math.Hypot(mx, my)

	together := math.Sqrt(max(0, length*length-2*scatter/n))
	typical := math.Sqrt(max(0, raw.V*raw.V-2*math.Ln2*noise))
	// The error of a squared Rayleigh median of n is 2 s²/sqrt(n).
	tolerance := 2 * (2*noise + 2*typical*math.Sqrt(noise)) / math.Sqrt(n)
	if typical*typical-together*together < tolerance {
		f.Ellipticity = stats.Known(together, errMean, len(fitted))
	} else {
		f.Ellipticity = stats.Known(typical, raw.Err, len(fitted))
	}
	f.Angle = stats.Known(wrap90(math.Atan2(my, mx)*90/math.Pi), min(90, 90/math.Pi*errMean/length), len(fitted))
	if len(fitted) < 3 || !(mean > 0) {
		f.Coherence = stats.Missing("fewer than three fitted stars")
		return
	}
	f.Coherence = stats.Known(length/mean, errMean/mean, len(fitted))
}

// vector is a star's ellipticity vector.
func (st *Star) vector() (x, y float64) {
	s, c := math.Sincos(2 * st.Angle * math.Pi / 180)
	return st.Ellipticity * c, st.Ellipticity * s
}

// medianValue is a weighted median (w nil: all alike) with its standard error,
// 1.2533 times that of the weighted mean. The values' variances are what they
// scatter by, or what their own errors (nil: unknown) tell when that makes more:
// few values may agree by chance.
func medianValue(x, w, errs []float64, why string) stats.Value {
	if len(x) == 0 {
		return stats.Missing(why)
	}
	if w == nil {
		w = slices.Repeat([]float64{1}, len(x))
	}
	v := weightedMedian(x, w)
	var sum, squares, own float64
	away := make([]float64, len(x))
	for k := range x {
		sum += w[k]
		squares += w[k] * w[k]
		away[k] = math.Abs(x[k] - v)
		if errs != nil {
			own += w[k] * w[k] * errs[k] * errs[k]
		}
	}
	scatter := stats.MADToSigma * weightedMedian(away, w)
	variance := scatter * scatter * squares
	switch {
	case errs != nil:
		variance = max(variance, own)
	case len(x) < 3:
		variance = math.NaN()
	}
	return stats.Known(v, 1.2533141373155001*math.Sqrt(variance)/sum, len(x))
}

func medianOf(x []float64) float64 { return stats.Median(x) }
