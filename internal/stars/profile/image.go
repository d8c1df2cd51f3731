package profile

import "math"

// Image is the light of a star at points around its middle, without noise: what is not
// measured yet, such as a stack's, is fitted as measured stars are.
type Image struct {
	f      fitter
	points []sample
	at     params // of the last fit
}

// imageRings, closer to each other towards the middle, and imageSpokes are the points: a fit's
// width is within a thousandth of that of four times as many.
const imageRings, imageSpokes = 20, 12

// NewImage is a dark one that reaches so far.
func NewImage(reach float64) *Image {
	im := &Image{f: fitter{nodes: []node{{w: 1}}}}
	for k := range imageRings {
		u := (float64(k) + 0.5) / imageRings
		for s := range imageSpokes {
			sin, cos := math.Sincos(2 * math.Pi * (float64(s) + float64(k%2)/2) / imageSpokes)
			r := reach * u * u
			im.points = append(im.points, sample{x: r * cos, y: r * sin, w: imageWeight * r * u * reach}) // by the area that it stands for
		}
	}
	return im
}

// imageWeight is low enough for a fit to rest where no figure moves by more than a thousandth: a
// fit's least gain is 1e-12 of chi², and an image of unit volume holds about 0.05.
const imageWeight = 1e-5

// Add adds light.
func (im *Image) Add(light func(x, y float64) float64) {
	for i := range im.points {
		p := &im.points[i]
		p.v += light(p.x, p.y)
	}
}

// Shape is the FWHM and the ellipticity of the profile that fits an image of about such an
// FWHM and exponent best; false where none does. The next one starts from it.
func (im *Image) Shape(about, beta float64) (fwhm, ellipticity float64, ok bool) {
	apart := exponentFine
	if im.at[7] == 0 {
		apart = exponentCoarse
		im.at = params{4: 4 / (about * about), 6: 4 / (about * about), 7: min(max(1/beta, qMin), qMax)}
	}
	for range maxParabolas {
		q := min(max(im.at[7], qMin+apart), qMax-apart)
		qs, left := []float64{q - apart, q, q + apart}, make([]float64, 3)
		for k, q := range qs {
			left[k], _ = im.fit(q)
		}
		q, _ = vertex(qs, left)
		_, ok = im.fit(q)
		within := q > qs[0] && q < qs[2]
		if within && apart == exponentFine {
			break
		}
		if within {
			apart = exponentFine
		}
	}
	fit := fitted{p: im.at}
	a, b, _ := fit.axes()
	return 2 * math.Sqrt(a*b), 1 - b/a, ok
}

// How far to either side of an exponent the best one is sought, of a new image and of one that
// light was added to.
const exponentCoarse, exponentFine = 0.1, 0.02

// fit fits the profile of an exponent to the image, from the last, and gives what it leaves.
func (im *Image) fit(q float64) (left float64, ok bool) {
	p := im.at
	p[2], p[3], p[7] = im.points[0].v, 0, q
	if !im.f.fit(im.points, &p) {
		return math.Inf(1), false
	}
	im.at = p
	return im.f.chi2, true
}
