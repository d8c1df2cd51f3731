package profile

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// The images of stars have one shape, as the same air and optics made them; knots of
// galaxies and nebulae are blurred by these, too, but have sizes of their own: all are
// wider, hardly two alike, and most are drawn out one way or another. So stars are the
// narrowest images that have a shape in common: more of one width, and drawn out alike,
// than of the widths next above.
const (
	shapeSure    = 0.1  // most error of ln FWHM of an image that tells which shape is common
	shapeLuck    = 0.02 // probability that the images of a shape are chance
	shapeGap     = 0.25 // of ln FWHM, which focus does not leave out
	shapeRange   = 0.15 // of ln FWHM, within which three fifths of stars are
	shapeExtent  = 0.2  // and nine tenths
	knotShare    = 0.25 // of all images, of which knots spoil the middle, or of their weight in it, as few bright ones do
	shapeBelow   = 10   // images of the shape for each that may be narrower
	shapeNoise   = 0.1  // of ln FWHM, by more than this
	shapeFewest  = 3    // images that have a shape in common
	placesFewest = 2    // images at places of stars that tell their width
	atPlace      = 2.0  // px, of an image from the place of a star that others show
	shapeDrawn   = 0.08 // by which the ellipticity vectors of stars differ beyond their errors
)

// shapeSpans are the ranges of ln FWHM over which stars may differ: in good images and
// in poor ones.
var shapeSpans = [...]float64{0.06, 0.12, 0.2}

// shape is what an image tells of the common one.
type shape struct {
	width, err float64 // ln FWHM
	x, y       float64 // ellipticity vector
	drawnErr   float64 // of each of its components
	at         stars.Place
}

func shapeOf(f *fitted) shape {
	a, b, angle := f.axes()
	sin, cos := math.Sincos(2 * angle * math.Pi / 180)
	e := 1 - b/a
	return shape{math.Log(f.fwhm()), math.Sqrt(f.widthVar), e * cos, e * sin, math.Sqrt(f.variance), stars.Place{X: f.p[0], Y: f.p[1]}}
}

// sureShapes are the shapes of those images that tell which is common, in order of width.
func sureShapes(fits []fitted) (sure []shape) {
	for i := range fits {
		if s := shapeOf(&fits[i]); s.err < shapeSure {
			sure = append(sure, s)
		}
	}
	slices.SortStableFunc(sure, func(a, b shape) int { return cmp.Compare(a.width, b.width) })
	return sure
}

// disagree tells whether the widths of the fitted images differ by more than those of
// stars do, so that the fainter ones are to be asked, too: where so many images fill the
// field that the wide ones are several stars, none are.
func disagree(fits []fitted, images, pixels int) bool {
	sure := sureShapes(fits)
	n := len(sure)
	if n <= shapeFewest || float64(images)*math.Exp(2*sure[n/10].width) > stars.CrowdedFrom*float64(pixels) {
		return false
	}
	return sure[n-1-n/5].width-sure[n/5].width > shapeRange || sure[n-1-n/20].width-sure[n/20].width > shapeExtent
}

// withoutKnots gives those of the fitted images that are stars, where these have a shape
// in common and a fair share of all are plainly wider, here and there; and the others. It
// gives all where they are alike, or differ from place to place as focus does.
// Widths under least, px, depend on where stars lie within a pixel, and tell nothing.
func withoutKnots(fits []fitted, least float64, w, h int) (some, knots []fitted) {
	sure := sureShapes(fits)
	width, ok := narrowest(sure)
	if !ok || math.Exp(width) < least || !spoiled(sure, width, w, h) {
		return fits, nil
	}
	return parted(fits, func(s *shape) bool { return s.wider(width) || s.err >= shapeSure })
}

// starsAt gives those of the fitted images that are stars by the places of some, and the others:
// those that are as wide as the images there, or lie there where these are too few to tell.
func starsAt(fits []fitted, places []stars.Place) (some, others []fitted) {
	there := func(s *shape) bool {
		return slices.ContainsFunc(places, func(at stars.Place) bool { return math.Hypot(at.X-s.at.X, at.Y-s.at.Y) < atPlace })
	}
	var widths []float64
	for _, s := range sureShapes(fits) {
		if there(&s) {
			widths = append(widths, s.width)
		}
	}
	if len(widths) < placesFewest {
		return parted(fits, func(s *shape) bool { return !there(s) || s.err >= shapeSure })
	}
	width := stats.Median(widths)
	return parted(fits, func(s *shape) bool { return s.wider(width) || s.narrower(width) || s.err >= shapeSure })
}

// parted are the fits without those of some shapes, and these.
func parted(fits []fitted, off func(*shape) bool) (left, taken []fitted) {
	for _, f := range fits {
		if s := shapeOf(&f); off(&s) {
			taken = append(taken, f)
		} else {
			left = append(left, f)
		}
	}
	return left, taken
}

// spoiled tells whether knots, images plainly wider than the common shape, spoil the middle
// of all, and are no stars that focus has made wider.
func spoiled(sure []shape, width float64, w, h int) bool {
	var narrow []stars.Place
	var above float64       // ln FWHM of the least that is wider
	var weight, all float64 // in the field's medians, of those that are wider and of all
	for _, s := range slices.Backward(sure) {
		all += stars.Weight(s.drawnErr)
		if s.wider(width) {
			above = s.width
			weight += stars.Weight(s.drawnErr)
		} else {
			narrow = append(narrow, s.at)
		}
	}
	apart := above >= width+shapeGap
	spoil := float64(len(sure)-len(narrow)) >= knotShare*float64(len(sure)) || apart && weight >= knotShare*all
	return spoil && stars.Evenly(narrow, w, h) && (apart || !smooth(sure))
}

// wider tells whether an image is plainly wider than the common shape.
func (s *shape) wider(width float64) bool { return s.width > width+shapeSpans[0]+2*s.err }

// narrower tells whether it is plainly narrower.
func (s *shape) narrower(width float64) bool { return s.width < width-shapeSpans[0]-2*s.err }

// narrowest is ln FWHM of the narrowest shape that images, in order of width, have in common.
func narrowest(sure []shape) (width float64, ok bool) {
	for i, from := range sure {
		below := len(spanned(sure, from.width-shapeNoise))
		for _, span := range shapeSpans {
			group := spanned(sure[i:], from.width+span)
			alike := drawnLike(group, group)
			if len(alike) < shapeFewest || below > max(1, len(alike)/shapeBelow) {
				continue
			}
			usual := math.Inf(1) // of those next above, in as wide a range
			for _, spans := range [...]float64{1, 3} {
				next := spanned(sure[i+len(group):], from.width+(1+spans)*span)
				usual = min(usual, (float64(len(drawnLike(next, group)))+0.5)/spans)
			}
			if stats.PoissonTail(len(alike)-1, usual) < shapeLuck/float64(i+1) { // any image has its own
				return alike[len(alike)/2].width, true
			}
		}
	}
	return 0, false
}

// smooth tells whether the widths change smoothly over the field.
func smooth(sure []shape) bool {
	var widths []float64
	var at []stars.Place
	for _, s := range sure {
		widths, at = append(widths, s.width), append(at, s.at)
	}
	return stars.Smoothly(at, widths)
}

// spanned are the first of some images in order of width, up to a width.
func spanned(sorted []shape, most float64) []shape {
	end, _ := slices.BinarySearchFunc(sorted, most, func(s shape, w float64) int { return cmp.Compare(s.width, w) })
	return sorted[:end]
}

// drawnLike are those of some images that are drawn out as most of a group are.
func drawnLike(some, group []shape) (like []shape) {
	var xs, ys []float64
	for _, s := range group {
		xs, ys = append(xs, s.x), append(ys, s.y)
	}
	x, y := stats.Median(xs), stats.Median(ys)
	for _, s := range some {
		if math.Hypot(s.x-x, s.y-y) < shapeDrawn+3*s.drawnErr {
			like = append(like, s)
		}
	}
	return like
}
