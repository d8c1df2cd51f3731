// Package figures sums up the stars of a field: medians, mean direction, maps,
// and the pattern over the sensor that many fields have in common.
//
// Model: widths and elongations of a field's stars scatter about one value, whose median,
// weighted by the errors of the shapes, is the field's; elongation that noise alone
// makes is taken off (Rice's law). Over the sensor the width is a plane with a
// bowl, fitted to the stars of many subs; tilt, curvature and coma are told where
// they exceed four times their error and a tenth of the width. These limits are common
// practice, no source.
package figures

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// Fill fills the field's medians from the stars that were fitted.
func Fill(f *stars.Field, list []stars.Star) {
	var fitted []*stars.Star
	var hfd, fwhm, ell, w, widthErr, ellErr []float64
	for i := range list {
		st := &list[i]
		if !st.Knot && !math.IsNaN(st.HFD) {
			hfd = append(hfd, st.HFD)
		}
		if st.Fitted {
			fitted = append(fitted, st)
			fwhm, ell, w = append(fwhm, st.FWHM), append(ell, st.Ellipticity), append(w, stars.Weight(st.ShapeErr))
			widthErr, ellErr = append(widthErr, st.FWHMErr), append(ellErr, st.ShapeErr)
		}
	}
	f.HFD = stats.MedianValue(hfd, nil, nil, stars.NoHalfFlux)
	why := stars.NoneFitted
	if f.Defocused {
		why = stars.ImagesRings
	}
	if len(fitted) == 0 {
		f.FWHM, f.Ellipticity, f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why), stats.Missing(why), stats.Missing(why)
		return
	}
	f.FWHM = stats.MedianValue(fwhm, w, widthErr, why)
	f.FWHM.Err = math.Hypot(f.FWHM.Err, f.FWHM.V*f.CommonErr)
	direction(f, fitted, stats.MedianValue(ell, w, ellErr, why))
}

// None takes the shapes off a field's stars, which tell nothing, and says why.
func None(f *stars.Field, list []stars.Star, why fact.Code) {
	for i := range list {
		list[i].Unfit()
	}
	Fill(f, list)
	f.FWHM, f.Ellipticity, f.Angle, f.Coherence = stats.Missing(why), stats.Missing(why), stats.Missing(why), stats.Missing(why)
	f.Map = stars.Map{}
}

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
func direction(f *stars.Field, fitted []*stars.Star, raw stats.Value) {
	var sw, sww, sx, sy, se, sv float64
	for _, st := range fitted {
		w := stars.Weight(st.ShapeErr)
		x, y := st.Vector()
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
		x, y := st.Vector()
		scatter += stars.Weight(st.ShapeErr) * ((x-mx)*(x-mx) + (y-my)*(y-my)) / 2
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
		// Whether they differ by noise, or point different ways by as much as the
		// typical length and its error allow, these stars cannot tell.
		apart := max(0, math.Sqrt(max(typical*typical, tolerance/2))-together)
		f.Ellipticity = stats.Known(together, math.Hypot(errMean, apart), len(fitted))
	} else {
		f.Ellipticity = stats.Known(typical, raw.Err, len(fitted))
	}
	f.Angle = stats.Known(stars.Wrap90(math.Atan2(my, mx)*90/math.Pi), min(90, 90/math.Pi*errMean/length), len(fitted))
	if len(fitted) < 3 || !(mean > 0) {
		f.Coherence = stats.Missing(stars.FewFitted)
		return
	}
	f.Coherence = stats.Known(length/mean, errMean/mean, len(fitted))
}

// ByFlux sorts stars, the brightest first.
func ByFlux(list []stars.Star) {
	unsorted := slices.Clone(list)
	for k, i := range stars.Brightest(unsorted) {
		list[k] = unsorted[i]
	}
}

// With adds to a field's stars those of its points, by their numbers, that are some;
// a note says so.
func With(f *stars.Field, moving []int) {
	if len(moving) == 0 {
		return
	}
	list := slices.Clone(f.Stars)
	for _, k := range moving {
		list = append(list, f.Points[k])
	}
	ByFlux(list)
	f.Stars = list
	f.Count += len(moving)
	f.Notes = append(f.Notes, fact.Of(stars.HotAdded, fact.Count("points", len(moving))))
}

// showing gives a field other stars, and makes its figures anew.
func showing(f *stars.Field, list []stars.Star) {
	f.Stars = list
	Fill(f, list)
	f.Map = MapOf(list, f.Width, f.Height)
}

// Without takes stars off a field by their numbers, in rising order, and makes
// its figures anew; a note says so.
func Without(f *stars.Field, fixed []int) {
	if len(fixed) == 0 {
		return
	}
	kept := make([]stars.Star, 0, len(f.Stars))
	for i, st := range f.Stars {
		if _, drop := slices.BinarySearch(fixed, i); !drop {
			kept = append(kept, st)
			continue
		}
		f.Count--
		if st.Saturated {
			f.Saturated--
		}
	}
	showing(f, kept)
	f.Notes = append(f.Notes, fact.Of(stars.HotTakenOff, fact.Count("points", len(fixed))))
}
