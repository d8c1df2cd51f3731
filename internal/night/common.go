package night

import (
	"math"
	"slices"

	"fitsqa/internal/cache"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
)

// Where the images of hardly any sub agree on a width, folds of a nebula above all, the stars
// among them are what a narrow filter finds in one sub and others show as well, all at one shift,
// and not on the same pixels.
const (
	commonSearched = 5    // subs that are searched so
	commonBeside   = 2    // of those before it and after it, that are asked for what one shows,
	commonShown    = 2    // how many of them must,
	commonRival    = 0.75 // of how sure it is there, that it may be elsewhere: noise alone makes 0.7 beside what is hardly beyond chance
	commonMoved    = 2    // and by how many px elsewhere: hot pixels, and light within the telescope, stay where they are
)

// commonWidths are those of the filters, px: what is up to half as wide again, or as narrow,
// loses little in them.
var commonWidths = []float64{2, 4}

// seekLight measures the light of subs whose own stars are too few to tell it, and how far
// and which way it is spread of those whose are too few to tell that.
func (r *Result) seekLight(known *memory) {
	b := new(buffers)
	for _, same := range sameFields(r.Subs) {
		for _, group := range ofOneLight(same) {
			if w := whoseLight(group); w != nil && (w.byImages() || w.common(known, r.Settings.Stars, b)) {
				w.seek(known, r.Settings.Stars, b)
			}
		}
	}
}

// common takes what most subs show as the pattern; false where there is nothing, or subs tell
// their light.
func (w *seeking) common(known *memory, opt stars.Options, b *buffers) bool {
	if len(w.mates) > 1 {
		return false
	}
	var best seeking
	surest := 0.0
	for _, try := range w.richest(known, opt, b) {
		if sure := try.shown(known, opt, b); sure > surest {
			surest, best = sure, try
		}
	}
	if surest > 0 {
		*w = best
	}
	return surest > 0
}

// shown is by how many standard errors the subs beside the one of the pattern show it, together;
// 0 where too few do.
func (w *seeking) shown(known *memory, opt stars.Options, b *buffers) (sure float64) {
	k, n := slices.IndexFunc(w.asked, func(i int) bool { return w.group[i] == w.from }), 0
	for _, i := range w.asked[max(0, k-commonBeside):min(len(w.asked), k+commonBeside+1)] {
		s := w.group[i]
		if s == w.from {
			continue
		}
		got := known.seek(s, opt, b, w.expected(registration.Identity, lightScale(s, w.from)), w.fwhm, math.NaN(), soughtReach)
		if got.Found && got.Rival < commonRival && math.Hypot(got.DX, got.DY) > commonMoved {
			n++
			sure += 2 / (got.Most/got.Share - 1)
		}
	}
	if n < commonShown {
		return 0
	}
	return sure
}

// richest is for every filter the sub in which it finds most, that which finds most before
// others.
func (w *seeking) richest(known *memory, opt stars.Options, b *buffers) []seeking {
	out, found := make([]seeking, len(commonWidths)), make([]float64, len(commonWidths))
	for n := range min(commonSearched, len(w.asked)) {
		s := w.group[w.asked[(2*n+1)*len(w.asked)/(2*min(commonSearched, len(w.asked)))]]
		for k, list := range known.narrow(s, opt, b) {
			if sum := evidence(list); sum > found[k] && len(list) >= patternFewest {
				found[k], out[k] = sum, *w
				out[k].fwhm, out[k].from, out[k].pattern = commonWidths[k], s, list[:min(len(list), soughtMost)]
			}
		}
	}
	return slices.DeleteFunc(out, func(try seeking) bool { return len(try.pattern) == 0 })
}

// narrow is what every one of the filters finds in the pixels of one sub, or found before.
func (m *memory) narrow(s *Sub, opt stars.Options, b *buffers) [][]stars.Star {
	asked := cache.NewKey("narrow 1").Add(s.key, opt, commonWidths)
	return lookedAt(m, s, opt, b, asked, nil, func(w, h int, opt stars.Options) [][]stars.Star {
		return b.stars.Narrow(b.pixels, w, h, opt, commonWidths)
	})
}
