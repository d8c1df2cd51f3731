package measure

import (
	"cmp"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/detect"
	"fitsqa/internal/stars/plane"
)

// hotWidth, px: hot pixels side by side, or filled in over a mosaic, pass for stars
// no wider than this.
const hotWidth = 2.0

// fewBright images leave it open whether most of them are stars.
const fewBright = 15

// search finds the stars with a filter of their size. What throws away more than it
// keeps is the wrong size: where there are signs of that, others are tried. Known places of
// stars tell it where they are enough.
func search(p *plane.Plane, threshold float64, known []stars.Place) *searched {
	if fwhm, ok := detect.SizeOf(p, imagesAt(p, known)); ok {
		t := &searched{p: p, threshold: threshold, s: detect.RoundSeeing(max(fwhm, detect.LeastFilter))}
		t.s.Bright = len(known)
		t.found = detect.Catalogue(p, t.s, threshold)
		return t
	}
	s, bright := detect.EstimateSeeing(p)
	if !bright {
		s = detect.RoundSeeing(3)
	}
	t := &searched{p: p, threshold: threshold, s: s, found: detect.Catalogue(p, s, threshold)}
	if !bright {
		t.broadImages()
	}
	t.besideHotPixels()
	t.amongKnots()
	t.betweenGreens()
	t.tooBroad()
	return t
}

// imagesAt are images at places within the picture.
func imagesAt(p *plane.Plane, places []stars.Place) (images []stars.Star) {
	for _, at := range places {
		if at.X >= 0 && at.Y >= 0 && at.X < float64(p.W-1) && at.Y < float64(p.H-1) {
			images = append(images, stars.Star{X: at.X, Y: at.Y})
		}
	}
	return images
}

// searched is what a filter of a size has found.
type searched struct {
	p         *plane.Plane
	threshold float64
	s         detect.Seeing
	found     detect.Found
	before    *searched // with the size that told knots, where another was taken for that
}

// with is the same with a round filter of another size.
func (t *searched) with(fwhm float64) *searched {
	other := &searched{p: t.p, threshold: t.threshold, s: detect.RoundSeeing(fwhm)}
	other.s.Bright, other.s.Hollow = t.s.Bright, t.s.Hollow
	other.found = detect.Catalogue(t.p, other.s, t.threshold)
	return other
}

// more takes another size where that finds more stars.
func (t *searched) more(fwhm float64) bool {
	other := t.with(fwhm)
	if len(other.found.Stars) <= len(t.found.Stars) {
		return false
	}
	*t = *other
	return true
}

// broadImages tries a wide filter: where nothing is bright there are perhaps broad images,
// that no single pixel shows.
func (t *searched) broadImages() {
	if len(t.found.Stars) < 5 {
		t.more(9)
	}
}

// besideHotPixels tries sizes of stars where hot pixels outnumber these: they may have set
// the size themselves.
func (t *searched) besideHotPixels() {
	points, n := len(t.found.Points)+len(t.p.Lone), len(t.found.Stars)
	if s := t.s; s.Fwhm >= hotWidth || points <= n && (2*points <= n || s.Bright >= fewBright) {
		return
	}
	for _, fwhm := range []float64{2.4, 4, 6} {
		if other := t.with(fwhm); evidence(other.found) > evidence(t.found) {
			*t = *other
		}
	}
}

// amongKnots tries a narrow filter where there are bright points that are stars under one.
// Those are no hot pixels: knots of nebulae and galaxies, or the lamps of a plane, told the
// size, and these are the stars. Where they are few beside what is broader, that must be of
// many sizes, as knots are.
func (t *searched) amongKnots() {
	sure := surePoints(t.found)
	if t.s.Fwhm <= hotWidth || len(sure) < fewestKnown {
		return
	}
	fwhm, ok := detect.SizeOf(t.p, sure)
	if !ok || fwhm > t.s.Fwhm/1.3 {
		fwhm = 1.6
		if len(sure) < fewestSharp || 2*len(detect.StarsAt(t.p, sure, detect.RoundSeeing(fwhm), t.threshold)) <= len(sure) {
			return
		}
	}
	if most := sharpShare * len(sure); most < offTracks(t.p, t.found, t.s, most) && detect.OneSize(t.p, sureStars(t.found)) {
		return
	}
	other, before := t.with(fwhm), *t
	*t = *other
	t.before = &before
}

// broadest, px: images wider than this were told by sums of pixels, and may be nebula.
const broadest = 10

// others are searches with other sizes, the likeliest first, for where hardly any star has
// the shape of one: tracks of particles told the size, or the lines and lamps of a plane.
// Narrow filters take particles for stars, and broad stars, of which single pixels hardly
// stand out, tell no size beside them.
func (t *searched) others(lines bool) []*searched {
	if t.before != nil {
		return []*searched{t.before}
	}
	if lines || t.s.Fwhm > broadest {
		return []*searched{t.with(2.4), t.with(4)}
	}
	sure := len(surePoints(t.found))
	if sure == 0 || len(sureStars(t.found)) > sure {
		return nil
	}
	var out []*searched
	for _, fwhm := range []float64{4, 6, 9} {
		out = append(out, t.with(fwhm)) // tracks may be evidence of more than the stars are
	}
	slices.SortStableFunc(out, func(a, b *searched) int { return cmp.Compare(evidence(b.found), evidence(a.found)) })
	return out
}

// betweenGreens tries wider filters on a mosaic: stars that fall between four green
// pixels, 1.4 px apart, are broader among these than the filter.
func (t *searched) betweenGreens() {
	for _, fwhm := range []float64{1.4, 1.9, 1.75} {
		if t.p.Green >= 0 && t.s.Fwhm < fwhm && len(t.found.Broad) > 0 {
			t.more(fwhm)
		}
	}
}

// tooBroad tries wider filters where more is too broad than there are stars: the size was
// taken too small, as where sharp stars hardly light the pixels beside their own.
func (t *searched) tooBroad() {
	for range 2 {
		if len(t.found.Broad) <= len(t.found.Stars) || t.s.Fwhm > 3 || !t.more(1.35*t.s.Fwhm) {
			return
		}
	}
}

const sureSNR, enoughSNR = 15.0, 30.0

// evidence is what speaks for the size of a search's filter: the squared significance
// of its stars, each as far as it is beyond what points of light reach that are not
// told from stars, and no more than makes it sure. A filter of the stars' size gives
// the most.
func evidence(found detect.Found) (sum float64) {
	for i := range found.Stars {
		if snr := found.Stars[i].SNR; snr > sureSNR {
			sum += min(snr, enoughSNR) * min(snr, enoughSNR)
		}
	}
	return sum
}

const (
	fewestKnown = 3 // points of a size in common
	fewestSharp = 6 // points that may be stars
	sharpShare  = 4 // times as many stars at most, unless these are knots
)

// offTracks counts the stars that lie on no track, where there are more than enough.
func offTracks(p *plane.Plane, found detect.Found, s detect.Seeing, enough int) int {
	if len(found.Stars) <= enough {
		return len(found.Stars)
	}
	_, list := detect.TakeStreaks(p, found, s)
	return len(list)
}

// surePoints are the points of a search that stand out from faint hot pixels.
func surePoints(found detect.Found) []stars.Star { return surely(found.Points) }

// sureStars are the stars of a search that stand out as much.
func sureStars(found detect.Found) []stars.Star { return surely(found.Stars) }

func surely(images []stars.Star) []stars.Star {
	return slices.DeleteFunc(slices.Clone(images), func(st stars.Star) bool { return st.SNR <= sureSNR })
}
