package night

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/cache"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/measure"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Where a target shows few stars, a sub that lost some of their light shows too few to be
// compared with the others; where it shows many, one that lost most of it, or whose stars are
// outvoted by knots. Its pixels are looked at once more, at the places where the others show
// stars.
const (
	soughtFewer   = 40   // stars of a sub under which its filter's light is sought so, whatever ties it
	soughtSNR     = 6    // signal to noise of a star to be sought in others
	soughtLike    = 1.6  // times as wide as usual, or as narrow, that it is at most
	soughtMost    = 30   // stars that are sought, the brightest
	patternFewest = 2    // stars of a pattern: one alone may be anything
	countedSNR    = 30.0 // signal to noise from which on more of it makes no better pattern
	soughtWidths  = 3    // subs that tell how wide the stars are
	soughtMates   = 8    // subs of known light that tell what the stars are like
	soughtReach   = 90   // px that a sub may point elsewhere than the one before it, two wide dithers, where few tell
	soughtSteps   = 4    // steps from sub to sub that tell how far they go
	soughtTied    = 3    // px that a sub may point elsewhere where it is tied
	imageWidths   = 0.3  // by which ln of the width differs from image to image, where they are not all stars
	oneImage      = 0.1  // of what two tell of that
	sharpest      = 0.25 // of the sizes
	gaussQuarter  = 0.67 // standard deviations from the middle of a Gaussian to its quarter
	narrowestPSF  = 1.5  // px, FWHM of the stars at least: places are known to a fraction of a pixel
)

// seeking is a filter's subs, some of which have no light measured.
type seeking struct {
	group   []*Sub
	mates   []int // by number: of sure light, the clearest first
	asked   []int // whose pixels are looked at, in order of shooting
	pattern []stars.Star
	from    *Sub // whose stars these are
	fwhm    float64
	steps   []float64 // px, of the pointing from one sub to the next
}

// whoseLight is nil where there is nothing to seek.
func whoseLight(group []*Sub) *seeking {
	w := &seeking{group: group}
	var counts []float64
	for i, s := range group {
		counts = append(counts, float64(s.Field.Count))
		if s.Transparency.Sure() {
			w.mates = append(w.mates, i)
		}
		if !s.Transparency.Sure() || !subs.TellsTrail(s.Field) {
			w.asked = append(w.asked, i)
		}
	}
	if stats.Quantile(counts, 0.75) >= soughtFewer {
		w.asked = slices.DeleteFunc(w.asked, func(i int) bool { return !tiedUntold(group[i]) })
	}
	if len(w.asked) == 0 {
		return nil
	}
	slices.SortStableFunc(w.mates, func(a, b int) int {
		return cmp.Compare(group[b].Transparency.Ratio.V, group[a].Transparency.Ratio.V)
	})
	w.mates = w.mates[:min(len(w.mates), soughtMates)]
	w.asked = append(w.asked, w.mates...)
	slices.Sort(w.asked)
	w.asked = slices.Compact(w.asked)
	return w
}

// byImages takes the images of a sub that are as wide as stars for the pattern; false where
// the subs tell no such width, or no sub shows enough.
func (w *seeking) byImages() bool {
	var widths, sure []float64
	for _, s := range w.group {
		if width, weight := toldWidth(s); weight > 0 {
			widths, sure = append(widths, width), append(sure, weight)
		}
	}
	if len(widths) < soughtWidths {
		return false
	}
	w.fwhm = max(narrowestPSF, narrowQuarter(widths, sure))
	of := w.mates
	if len(of) < 2 {
		of = w.asked
	}
	w.from = w.best(of)
	w.pattern = w.patternOf(w.from.Field)
	return len(w.pattern) >= patternFewest
}

// tiedUntold tells of a sub that shows enough stars to tell where it points, and too few
// that are sure to tell its light.
func tiedUntold(s *Sub) bool { return s.Align.Matched() && !s.Transparency.Ratio.OK() }

// best is the sub that shows most stars best, among those whose stars are, but for chance, as
// many as those of others.
func (w *seeking) best(of []int) *Sub {
	var counts []float64
	for _, i := range of {
		counts = append(counts, float64(w.group[i].Field.Count))
	}
	most := stats.Quantile(counts, 0.75)
	most += 2 * math.Sqrt(most)
	var best *Sub
	top := -1.0
	for _, i := range of {
		s := w.group[i]
		pattern := w.patternOf(s.Field)
		sum := evidence(pattern)
		if len(pattern) >= patternFewest && sum > top && float64(s.Field.Count) <= most && !s.Field.Double.Is() {
			best, top = s, sum
		}
	}
	if best == nil {
		best = w.group[of[0]]
	}
	return best
}

// evidence is what speaks for a pattern: more of a star's signal to noise makes no better one.
func evidence(list []stars.Star) (sum float64) {
	for _, st := range list {
		snr := min(st.SNR, countedSNR)
		sum += snr * snr
	}
	return sum
}

// toldWidth is the width of a sub's images, and what it counts for beside others': nothing where
// no air makes stars as wide, a tenth of two where there is one image, the core of a galaxy
// perhaps; the less the less sure it is, and the fewer tell it, which may be folds of a nebula
// or hot pixels. That it is unsure in most subs is no reason to seek nothing: whether these
// are stars, their moving together tells.
func toldWidth(s *Sub) (px, weight float64) {
	f := s.Field.FWHM
	if !f.OK() || s.BeyondStars(f.V) {
		return math.NaN(), 0
	}
	off := f.KnownErr() / f.V
	return f.V, 1 / (off*off + imageWidths*imageWidths/max(float64(f.N-1), oneImage))
}

// narrowQuarter is the width that a quarter of the weight is under: what is drawn out or out of
// focus, and galaxies, are wider than stars.
func narrowQuarter(widths, weights []float64) float64 {
	order := make([]int, len(widths))
	var left float64
	for i, v := range weights {
		order[i] = i
		left += v / 4
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(widths[a], widths[b]) })
	for _, i := range order {
		if left -= weights[i]; left <= 0 {
			return widths[i]
		}
	}
	return math.NaN()
}

// patternOf are the stars of a field that others must show too: by their width they are
// neither noise nor knots of a nebula, and no two are parts of one galaxy.
func (w *seeking) patternOf(f *stars.Field) []stars.Star {
	var out []stars.Star
	for _, st := range f.Stars {
		like := st.Fitted && math.Abs(math.Log(st.FWHM/w.fwhm)) < math.Log(soughtLike)
		beside := func(o stars.Star) bool { return math.Hypot(st.X-o.X, st.Y-o.Y) < 2*w.fwhm }
		if like && !slices.ContainsFunc(out, beside) && st.SNR >= soughtSNR && !st.Saturated && st.Flux > 0 && len(out) < soughtMost {
			out = append(out, st)
		}
	}
	return out
}

// seek looks at the pixels of those asked, one after the other: where one points tells
// where the next does.
func (w *seeking) seek(known *memory, opt stars.Options, b *buffers) {
	light, lost := make([]*photometry.Light, len(w.group)), make([]*photometry.Light, len(w.group))
	drawn := make([]stars.Drawn, len(w.group))
	scale, sizes := make([]float64, len(w.group)), make([]stats.Value, len(w.group))
	for i, s := range w.group {
		scale[i] = lightScale(s, w.group[0])
	}
	start := slices.IndexFunc(w.asked, func(i int) bool { return w.group[i].Start.Compare(w.from.Start) >= 0 })
	start = max(start, 0)
	usual := math.NaN() // half-flux diameter in the sub that showed the stars
	for _, step := range []int{1, -1} {
		at, k := registration.Identity, start
		if step < 0 {
			k--
		}
		for ; k >= 0 && k < len(w.asked); k += step {
			i := w.asked[k]
			s := w.group[i]
			got, to := w.lookAt(known, opt, b, s, at, usual)
			if !got.Found {
				if !math.IsNaN(got.Most) {
					lost[i] = &photometry.Light{Share: got.Most}
				}
				continue
			}
			if k != start {
				w.steps = append(w.steps, math.Hypot(to.C-at.C, to.F-at.F))
			}
			at = to
			light[i] = &photometry.Light{Flux: got.Flux, Err: got.Err, Share: got.Share}
			drawn[i] = got.Drawn
			if sizes[i] = got.Size; s == w.from {
				usual = got.Size.V
			}
		}
	}
	w.surelyLost(light, lost)
	all := make([]photometry.Transparency, len(w.group))
	for i, s := range w.group {
		all[i] = s.Transparency
	}
	photometry.FromSought(all, fields(w.group), light, scale, slices.Index(w.group, w.from))
	spread := spreads(sizes)
	for i, s := range w.group {
		s.Transparency, s.Spread, s.Drawn = all[i], spread[i], drawn[i]
	}
}

// lookAt looks for the stars in one sub: where it is tied to, else about where the one before
// it pointed, which it also is where wrong stars tied it. to is where it points.
func (w *seeking) lookAt(known *memory, opt stars.Options, b *buffers, s *Sub, at registration.Transform, usual float64) (got measure.Sought, to registration.Transform) {
	look := func(guess registration.Transform, reach int) bool {
		got = known.seek(s, opt, b, w.expected(guess, lightScale(s, w.from)), w.fwhm, usual, reach)
		to = guess
		to.C, to.F = to.C+got.DX, to.F+got.DY
		return got.Found
	}
	tied := s.Align.Matched() && w.from.Align.Matched()
	if tied && look(w.from.Align.Transform.Then(s.Align.Transform.Inverse()), soughtTied) {
		return got, to
	}
	if reach := w.reach(); !tied || soughtTied < reach {
		look(at, reach)
	}
	return got, to
}

// spreads are sizes over that of the sharpest quarter, which subs are held against: of sizes
// that scatter by their errors, it is too small by as much as a quarter of a Gaussian lies below.
func spreads(sizes []stats.Value) []stats.Value {
	var all, errs []float64
	for _, v := range sizes {
		if v.N > 0 {
			all, errs = append(all, v.V), append(errs, v.Err/v.V)
		}
	}
	usual, off := stats.Quantile(all, sharpest), gaussQuarter*stats.Median(errs)
	out := make([]stats.Value, len(sizes))
	for i, v := range sizes {
		out[i] = stats.Missing(stars.NoHalfFlux)
		if v.N > 0 && len(all) >= soughtWidths {
			out[i] = stats.Known(v.V/usual, v.V/usual*math.Hypot(v.Err/v.V, off), v.N)
		}
	}
	return out
}

// surelyLost adds to the light of subs that of those whose stars were not found although
// they point where the others do: those shot between two whose stars were, with fewer stars
// of their own by half, or without any that is as sure as those sought.
func (w *seeking) surelyLost(light, lost []*photometry.Light) {
	found := func(i int) bool { return light[i] != nil && len(light[i].Flux) > 0 }
	first := slices.IndexFunc(w.asked, found)
	for k, i := range w.asked {
		if lost[i] == nil {
			continue
		}
		own := len(w.patternOf(w.group[i].Field))
		between := first >= 0 && k > first && slices.ContainsFunc(w.asked[k:], found)
		if own == 0 || between && 2*own < len(w.pattern) {
			light[i] = lost[i]
		}
	}
}

// reach is how many px a sub may point elsewhere than the one before.
func (w *seeking) reach() int {
	if len(w.steps) < soughtSteps {
		return soughtReach
	}
	return min(soughtReach, soughtTied+int(2*slices.Max(w.steps)))
}

// expected are the stars where they lie in a sub, with the light that they have there.
func (w *seeking) expected(to registration.Transform, scale float64) []stars.Star {
	out := slices.Clone(w.pattern)
	for i := range out {
		out[i].X, out[i].Y = to.Apply(out[i].X, out[i].Y)
		out[i].Flux *= scale
	}
	return out
}

// seek looks for stars at their places in the pixels of one sub, or recalls what it found.
func (m *memory) seek(s *Sub, opt stars.Options, b *buffers, expected []stars.Star, fwhm, usual float64, reach int) measure.Sought {
	asked := cache.NewKey("sought 5").Add(s.key, opt, expected, fwhm, usual, reach)
	return lookedAt(m, s, opt, b, asked, measure.Sought{Most: math.NaN()}, func(w, h int, opt stars.Options) measure.Sought {
		return b.stars.Seek(b.pixels, w, h, opt, expected, fwhm, usual, reach)
	})
}

// lookedAt is what a look at the pixels of one sub tells, or told before where the same was
// asked; nothing where they cannot be read.
func lookedAt[T any](m *memory, s *Sub, opt stars.Options, b *buffers, asked *cache.KeyMaker, nothing T, look func(w, h int, opt stars.Options) T) T {
	key, keep := asked.Key(), m != nil && s.key != (cache.Key{})
	var got T
	if keep && m.store.Get(key, &got) {
		return got
	}
	_, opt, err := s.load(s.applied, opt, b)
	if err != nil {
		return nothing
	}
	got = look(s.Frame.Image.Width, s.Frame.Image.Height, opt)
	if keep {
		_ = m.store.Put(key, got) // a full disk costs the next run time, and this one nothing
	}
	return got
}
