// Package measure measures one star field: the picture without its background,
// its stars, their shapes, and the figures of the field, in that order.
//
// What each step assumes and where it is from stands in its package: plane
// (background, noise, lone pixels), detect (stars and what is none), profile (shapes,
// fluxes), figures (medians, maps). What is decided here is the size of the filter
// that stars are sought with (search.go): where hot pixels, knots of nebulae or the lamps
// of a plane told a wrong one, others are tried, and the one is taken whose stars have
// a width in common.
//
// Limits: stars narrower than about a pixel are not told from hot pixels in one frame,
// which a note says; of rings (far out of focus) only the half-flux diameter is
// measured; the brightest 5000 stars are kept.
package measure

import (
	"errors"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/figures"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stars/profile"
	"fitsqa/internal/stats"
)

// Measurer measures one frame after another and keeps its buffers between
// them. One Measurer serves one goroutine.
type Measurer struct {
	p      plane.Plane
	shaper profile.Shaper

	found        detect.Found // in the last frame
	kept, ridges []stars.Star // stars of it that lie on no track, and those that do on a ridge of light
	second       []stars.Star // those that are second images
}

// maxStars is how many stars a Field keeps, the brightest.
const maxStars = 5000

// Measure measures one field of w x h pixels. data may be changed (its
// background is subtracted); NaN pixels are masked. It fails only on input that
// is no image at all; a field without stars is a Field with reasons.
func (ms *Measurer) Measure(data []float32, w, h int, opt stars.Options) (*stars.Field, error) {
	if w <= 0 || h <= 0 || len(data) < w*h {
		return nil, errors.New("stars: no image")
	}
	ms.remember(detect.Found{}, nil, nil)
	p := &ms.p
	p.W, p.H, p.R = w, h, data[:w*h]
	p.Green, p.Gain, p.Saturation, p.Smeared = -1, opt.Gain, opt.Saturation, opt.Smeared
	p.Step = opt.Step
	field := &stars.Field{Width: w, Height: h}
	if why := ms.subtract(opt); why.Code != "" {
		field.Missing(why)
		return field, nil
	}
	measureSky(field, p)
	field.RandomNoise, field.NoiseParts = p.RandomNoise(stars.Parts, stats.NoiseLimit(opt.Step))
	field.OddRows, field.OddColumns = p.Alternation()
	if !(field.Noise.V > 0) {
		field.NoStars(stars.NoNoise)
		return field, nil
	}
	ms.measureStars(field, opt)
	return field, nil
}

// subtract takes the background off the picture, and masks hot pixels; why it cannot be
// done has no code where it was.
func (ms *Measurer) subtract(opt stars.Options) (why fact.Fact) {
	p, w, h, limit := &ms.p, ms.p.W, ms.p.H, stats.NoiseLimit(opt.Step)
	if w < 16 || h < 16 {
		return fact.Of(stars.TooSmall, fact.Count("width_px", w), fact.Count("height_px", h))
	}
	if opt.Bayer {
		p.Green = plane.GreenParity(p.R, w, h)
	}
	p.Mask(opt.Hot)
	p.Lone, p.Assumed = p.Lone[:0], false
	if opt.Bayer {
		p.MaskLone(limit)
		plane.FillFromGreen(p.R, w, h, p.Green)
	}
	if !p.TakeBackground(limit) {
		return fact.Of(stars.NoPixels)
	}
	if math.IsInf(p.Saturation, 1) || !(p.Saturation > 0) {
		p.Saturation = p.FindSaturation()
	}
	if !opt.Bayer {
		p.DropLone()
	}
	return fact.Fact{}
}

// measureStars finds the stars and measures their shapes, and what they are of the field.
func (ms *Measurer) measureStars(field *stars.Field, opt stars.Options) {
	p := &ms.p
	t := search(p, opt.Threshold, opt.Stars)
	s, list := ms.look(field, t, opt)
	if opt.Stars == nil && (!firm(field) || mixed(field, list)) {
		if others := t.others(len(field.Streaks) > 0); len(others) > 0 {
			s, list = ms.lookAgain(field, append(others, t), opt)
		}
	}
	if mixed(field, list) {
		figures.None(field, list, stars.WidthsDisagree)
	}
	field.Points, field.Broad = ms.points(ms.found, list, s), brightest(slices.Clone(ms.found.Broad))
	doubtWidth(field, list)
	ms.second = finish(field, list)
	field.Halo = stats.Missing(stars.NoWidth)
	if field.FWHM.OK() {
		field.Halo = profile.Halo(p, field.Stars, field.FWHM.V, field.Noise.V)
		if tail := profile.Tail(p, field.Stars, field.FWHM.V); tail.Is() && !(tail.Share.V < pieces*field.Double.Share.V) {
			field.Double = tail
		}
	}
	noteSharpness(field, p, s, len(ms.found.Points)+len(p.Lone))
}

// pieces of a tail pass for second images, with less than its light; of a true second image
// the tail that is seen has as much.
const pieces = 1.5

// look measures the shapes of what a search found, and looks again with the size that they
// tell where the first idea of it was off.
func (ms *Measurer) look(field *stars.Field, t *searched, opt stars.Options) (detect.Seeing, []stars.Star) {
	s := t.s
	field.Defocused = s.Hollow >= 0.5
	var list []stars.Star
	field.Streaks, list = ms.take(t.found, s, opt.Threshold)
	ms.shapes(field, list, s, opt)
	if f := field.FWHM; f.OK() && f.N >= 3 && !field.Defocused {
		seen := math.Sqrt(f.V*f.V + stars.SigmaToFWHM*stars.SigmaToFWHM/12)
		// A filter as wide as four green pixels of a mosaic sees all narrower stars, which
		// are broader than their own where they lie between these.
		least := detect.LeastFilter
		if ms.p.Green >= 0 {
			least = fourGreen
		}
		if seen > 1.3*s.Fwhm || max(seen, least) < s.Fwhm/1.3 {
			s = fittedSeeing(field, s).AtLeast(least)
			field.Streaks, list = ms.take(detect.Catalogue(&ms.p, s, opt.Threshold), s, opt.Threshold)
			ms.shapes(field, list, s, opt)
		}
	}
	return s, list
}

const (
	firmFewest = 4    // stars that have a shape in common
	firmErr    = 0.06 // of their width, its error
	firmSpread = 0.25 // of their width, its scatter from star to star: knots of nebulae have more
)

// firm tells whether stars have a width in common, or show rings, which have none.
func firm(field *stars.Field) bool {
	f := field.FWHM
	return field.Defocused || f.OK() && f.N >= firmFewest && f.Err < firmErr*f.V
}

// alike tells whether the width scatters from star to star as that of stars does, or changes
// over the field as focus does.
func alike(field *stars.Field, list []stars.Star) bool {
	f := field.FWHM
	return f.Err*math.Sqrt(float64(f.N)) < firmSpread*f.V || focusChanges(sureWidths(list))
}

const (
	mixedSure   = 0.1 // of its width, the error of one that counts
	mixedSpread = 0.5 // of ln FWHM, from the narrowest fifth to the widest: focus over the field makes less
	mixedFewest = 4
	mixedPlaces = 8    // images that tell whether it is the focus that changes over the field
	mixedDrawn  = 0.35 // ellipticity of wide images that are drawn out all ways
	mixedAlike  = 0.6  // coherence of a dozen such by chance
)

// mixed tells whether the images are of many widths, as nebulae are, and none is that of stars,
// unless it is the focus that changes from one side of the field to the other; or wide and drawn out, each another way.
func mixed(field *stars.Field, list []stars.Star) bool {
	if f := field; f.FWHM.V > broadest && f.Ellipticity.V > mixedDrawn && f.Coherence.V < mixedAlike {
		return true
	}
	widths, places := sureWidths(list)
	return len(widths) >= mixedFewest && stats.Quantile(widths, 0.8)-stats.Quantile(widths, 0.2) > mixedSpread && !focusChanges(widths, places)
}

// sureWidths are the ln FWHM of the images that count, and where they lie.
func sureWidths(list []stars.Star) (widths []float64, places []stars.Place) {
	for i := range list {
		if st := &list[i]; st.Fitted && st.FWHMErr < mixedSure*st.FWHM {
			widths, places = append(widths, math.Log(st.FWHM)), append(places, stars.Place{X: st.X, Y: st.Y})
		}
	}
	return widths, places
}

// focusChanges tells whether it is the focus over the field that makes widths differ.
func focusChanges(widths []float64, places []stars.Place) bool {
	return len(widths) >= mixedPlaces && stars.Smoothly(places, widths)
}

// lookAgain looks with other sizes, one after the other until stars have a width in common,
// and with the last one else.
func (ms *Measurer) lookAgain(field *stars.Field, others []*searched, opt stars.Options) (s detect.Seeing, list []stars.Star) {
	for _, other := range others {
		if s, list = ms.look(field, other, opt); firm(field) && !mixed(field, list) && !field.Defocused && alike(field, list) {
			break
		}
	}
	return s, list
}

// fourGreen, px, is how wide the four green pixels around a red or blue one are.
const fourGreen = 2.0

// take takes off what was found that lies on tracks and ridges of light.
func (ms *Measurer) take(found detect.Found, s detect.Seeing, threshold float64) ([]stars.Streak, []stars.Star) {
	streaks, list := detect.TakeStreaks(&ms.p, found, s)
	list, ridges := detect.TakeRidges(&ms.p, list, found.Knots, s, threshold)
	ms.remember(found, list, ridges)
	return streaks, list
}

// shapes measures the shapes of stars and what follows for the field.
func (ms *Measurer) shapes(field *stars.Field, list []stars.Star, s detect.Seeing, opt stars.Options) {
	field.Map = stars.Map{}
	if ms.shaper.Measure(&ms.p, field, list, s, opt) {
		figures.Fill(field, list)
		field.Map = figures.MapOf(list, field.Width, field.Height)
	}
}

// fittedSeeing makes the filter from the fitted shape.
func fittedSeeing(f *stars.Field, old detect.Seeing) detect.Seeing {
	a := f.FWHM.V / 2 / math.Sqrt(1-f.Ellipticity.V)
	b := a * (1 - f.Ellipticity.V)
	m := profile.Moffat{}
	m.Cxx, m.Cxy, m.Cyy = profile.ShapeMatrix(a, b, f.Angle.V)
	det := m.Cxx*m.Cyy - m.Cxy*m.Cxy
	// Half widths at half maximum to sd: over sqrt(2 ln 2); pixel 1/12 px².
	c := 1 / (2 * math.Ln2 * det)
	s := detect.Seeing{Xx: m.Cyy*c + 1./12, Xy: -m.Cxy * c, Yy: m.Cxx*c + 1./12, Bright: old.Bright, Hollow: old.Hollow}
	s.Fwhm = stars.SigmaToFWHM * math.Pow(s.Xx*s.Yy-s.Xy*s.Xy, 0.25)
	return s
}

// measureSky fills level, noise and gradient from the mesh.
func measureSky(f *stars.Field, p *plane.Plane) {
	var level []float64
	for c, ok := range p.Mesh.Valid {
		if ok {
			level = append(level, float64(p.Mesh.Level[c]))
		}
	}
	f.SkyParts, f.ScatterParts = skyParts(&p.Mesh, p.Mesh.Level), skyParts(&p.Mesh, p.Mesh.Noise)
	med := stats.Median(level)
	f.Noise = plane.MedianNoise(&p.Mesh)
	err := f.Noise.V * stats.MedianErr / math.Sqrt(float64(len(level))*1000)
	if !(f.Noise.V > 1.001*stats.NoiseLimit(p.Step)) { // where between two steps it lies is not told
		err = math.Hypot(err, p.Step/math.Sqrt(12))
	}
	f.Sky = stats.Known(med, err, len(level))
	if len(level) < 9 {
		f.GradientPct = stats.Missing(stars.SmallForGradient)
		return
	}
	if !(med > 0) {
		f.GradientPct = stats.Missing(stars.GradientOfNothing)
		return
	}
	f.GradientPct = stats.Known(100*(stats.Quantile(level, 0.98)-stats.Quantile(level, 0.02))/med,
		100*f.Noise.V/math.Sqrt(1000)/med*math.Sqrt2, len(level))
}

// skyParts are the means of one of the mesh's figures over the parts of the field.
func skyParts(m *stats.Mesh, figure []float32) []float64 {
	const side = stars.SkyParts
	sum, n := make([]float64, side*side), make([]float64, side*side)
	for c, ok := range m.Valid {
		if ok {
			x, y := (float64(c%m.Cols)+0.5)/float64(m.Cols), (float64(c/m.Cols)+0.5)/float64(m.Rows)
			k := stars.PartOf(x*float64(m.Width), y*float64(m.Height), m.Width, m.Height, side)
			sum[k], n[k] = sum[k]+float64(figure[c]), n[k]+1
		}
	}
	for k := range sum {
		sum[k] /= n[k] // 0/0: no cell lies there
	}
	return sum
}

// finish sorts, takes off second images, and counts.
func finish(f *stars.Field, list []stars.Star) (images []stars.Star) {
	figures.ByFlux(list)
	var second []int
	f.Double, second = detect.Doubled(list, f.Width, f.Height)
	for k := len(second) - 1; k >= 0; k-- {
		images = append(images, list[second[k]])
		list = slices.Delete(list, second[k], second[k]+1)
	}
	f.Count = len(list)
	f.Saturated = 0
	for _, s := range list {
		if s.Saturated {
			f.Saturated++
		}
	}
	f.Stars = slices.Clone(list[:min(len(list), maxStars)])
	return images
}

// maxPoints is how many points that may be stars a Field keeps, the brightest, and how many
// images that are broader.
const maxPoints = 500

// brightest sorts a list that is the caller's own, and leaves what a Field keeps of it.
func brightest(list []stars.Star) []stars.Star {
	figures.ByFlux(list)
	return slices.Clone(list[:min(len(list), maxPoints)])
}

// points are those left out as hot pixels, where they may be stars: the stars are
// hardly wider than pixels, or less than these.
func (ms *Measurer) points(found detect.Found, list []stars.Star, s detect.Seeing) []stars.Star {
	if !sharp(&ms.p, s) && len(found.Points) <= len(found.Stars) {
		return nil
	}
	points := slices.Clone(found.Points)
	for i := range points {
		points[i].Flux, points[i].FluxErr = ms.lightOfPoint(&points[i], list)
	}
	return brightest(points)
}

// doubtWidth states how little a width tells where more was left out as hot pixels than
// is behind it, and hardly any of the stars behind it lies in the middle of a pixel, as
// a quarter of all do: stars narrower than a pixel are left out unless they fall
// between pixels, and those come out up to twice as wide.
func doubtWidth(f *stars.Field, list []stars.Star) {
	if !f.FWHM.OK() || f.FWHM.V > hotWidth || len(f.Points) <= f.FWHM.N {
		return
	}
	inMiddle := func(x float64) bool { return math.Abs(x-math.Round(x)) < 0.25 }
	middle := 0
	for _, st := range list {
		if st.Fitted && inMiddle(st.X) && inMiddle(st.Y) {
			middle++
		}
	}
	if middle < 2 || 10*middle < f.FWHM.N {
		f.FWHM.Err = math.Hypot(f.FWHM.Err, f.FWHM.V/2)
	}
}

// lightOfPoint is the light of a star no wider than a pixel, and its error: that of 3x3
// px. The filter, made for wider ones, would give the more the nearer its middle is to a
// pixel's. Of a mosaic, where half of these pixels are not measured, it is the filter's
// answer on the scale of the other stars all the same.
func (ms *Measurer) lightOfPoint(point *stars.Star, list []stars.Star) (flux, err float64) {
	p := &ms.p
	if p.Green >= 0 {
		for i := range list {
			if !list[i].OwnFlux && !list[i].Saturated {
				scale := list[i].Flux / ms.kept[i].Flux
				return point.Flux * scale, point.FluxErr * scale
			}
		}
		return point.Flux, point.FluxErr
	}
	cx, cy := int(math.Round(point.X)), int(math.Round(point.Y))
	for y := max(0, cy-1); y <= min(cy+1, p.H-1); y++ {
		for x := max(0, cx-1); x <= min(cx+1, p.W-1); x++ {
			flux += float64(p.R[y*p.W+x])
		}
	}
	return flux, plane.WithPhotons(3*p.Mesh.NoiseAt(point.X, point.Y), flux, p.Gain)
}

// sharp tells whether the stars are hardly wider than the measured pixels are apart
// (1.6 times: the pixels around the middle then hold under a third of its height each).
func sharp(p *plane.Plane, s detect.Seeing) bool {
	apart := 1.0
	if p.Green >= 0 {
		apart = math.Sqrt2
	}
	return s.Bright > 0 && s.Fwhm <= 1.6*apart
}

// noteSharpness says what cannot be known where stars are that sharp, or may be.
func noteSharpness(f *stars.Field, p *plane.Plane, s detect.Seeing, left int) {
	if p.Assumed && len(p.Lone) > f.Count {
		f.Notes = append(f.Notes, fact.Of(stars.TakenForHot, fact.Count("points", len(p.Lone))))
	}
	if !sharp(p, s) {
		return
	}
	which := "pixels"
	if p.Green >= 0 {
		which = "green pixels"
	}
	f.Notes = append(f.Notes, fact.Of(stars.HardlyWider, fact.Text("apart", which)))
	if left > 0 {
		f.Notes = append(f.Notes, fact.Of(stars.PointsLeft, fact.Count("points", left)))
	}
}
