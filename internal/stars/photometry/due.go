package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// due tells which stars must be there in one field: inside its frame, as far as
// its own zero point tells bright enough for the noise of the field and of their place
// (needed, by star), and no part of a neighbour's image or of a satellite's track, nor there
// as what is no star of its shape or place.
func (z *zeroPoints) due(j int, needed []needs) []*dueStar {
	f := z.fields[j]
	back := z.al[j].Transform.Inverse()
	found := make([]*observation, len(z.star))
	var faint, scatter []float64
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		found[o.star] = o
		faint = append(faint, f.Stars[o.index].FluxErr)
		scatter = append(scatter, scatterAt(f, f.Stars[o.index].X, f.Stars[o.index].Y))
	}
	lone, blend := z.timesSure(j)
	limit := math.Log(surelySeen * stats.Median(faint) / z.scaleOf(j))
	usual := stats.MedianInPlace(scatter)
	out := make([]*dueStar, 0, len(z.obs[j]))
	for i, ln := range z.star {
		times := lone
		if needed[i].blend {
			times = blend
		}
		if z.seen[i] < 2 || ln+z.zero[j] < max(limit, needed[i].ln)+math.Log(times) || z.merged[j][i] {
			continue
		}
		x, y := back.Apply(z.place[i].x, z.place[i].y)
		if x < 4 || y < 4 || x > float64(f.Width-5) || y > float64(f.Height-5) || onTrack(f, x, y) {
			continue
		}
		here := scatterAt(f, x, y)
		if here > edged*usual && ln+z.zero[j] < limit+math.Log(times*here/usual) || math.IsNaN(here) && len(f.ScatterParts) > 0 {
			continue // edges hide it, or no pixel there holds a value
		}
		d := &dueStar{star: i, x: x, y: y, seen: found[i]}
		if d.seen != nil && z.residual(j, d.seen) < math.Log(noLight) {
			d.seen = nil
		}
		if d.seen == nil && z.lightThere(j, x, y, ln+z.zero[j]) {
			continue
		}
		out = append(out, d)
	}
	return out
}

// needs is what it takes to see a star at its place.
type needs struct {
	ln    float64 // of the light with which it is surely seen there
	blend bool    // most fields show it as a blend or a knot
}

// neededLight is what it takes to see each star, by the median of the fields that show
// it: on a nebula that is more than over most of a field.
func (z *zeroPoints) neededLight() []needs {
	by, blends := make([][]float64, len(z.star)), make([]int, len(z.star))
	for _, obs := range z.obs {
		for k := range obs {
			by[obs[k].star] = append(by[obs[k].star], obs[k].ln+obs[k].faint)
			if obs[k].blend {
				blends[obs[k].star]++
			}
		}
	}
	needed := make([]needs, len(by))
	for i, v := range by {
		needed[i] = needs{stats.MedianInPlace(v), 2*blends[i] > len(v)}
	}
	return needed
}

// A field of few stars, which fill little of it, loses hardly any among others or in
// their wings: those count that are surely seen, rather than those of twice their
// significance. Its map needs a few in each of its parts; where there are more than a
// handful, those that stand alone do.
const (
	sparseFilled = 0.005 // of the field
	sparse       = 40    // stars
	sparseAlone  = 120
)

// timesSure is how many times as much light as is surely seen a star must have to be due
// in a field: one that stands alone, and a blend.
func (z *zeroPoints) timesSure(j int) (lone, blend float64) {
	lone, blend = 2, 2
	if few := z.fields[j].Count; z.filled(j) < sparseFilled {
		if few < sparseAlone {
			lone = 1
		}
		if few < sparse {
			blend = 1
		}
	}
	return lone, blend
}

// edged is how many times as much as where stars are found the pixels of a part of a field
// scatter about its background where sharp edges run through it: none is found there that does
// not stand out above these. By what faint stars and nebulae make of it, of which every sub
// tells, parts differ by less.
const edged = 2

// scatterAt is that scatter around a place; NaN where it is unknown.
func scatterAt(f *stars.Field, x, y float64) float64 {
	if len(f.ScatterParts) == 0 {
		return math.NaN()
	}
	return f.ScatterParts[stars.PartOf(x, y, f.Width, f.Height, stars.SkyParts)]
}

// onTrack tells whether a place is so near a satellite's track that no star is told
// from it there.
func onTrack(f *stars.Field, x, y float64) bool {
	return slices.ContainsFunc(f.Streaks, func(t stars.Streak) bool { return t.Distance(x, y) < 2*t.Width })
}

// lightThere tells whether a field shows light at a star's place, with this ln flux, that is not tied
// to it or was left out as broader or sharper than a star. Knots pass for stars in subs of another
// width, their middle depends on the filter, and stars hardly wider than the pixels are apart seem
// broader or sharper with where in a pixel they fall: they are not missing.
func (z *zeroPoints) lightThere(j int, x, y, ln float64) bool {
	f := z.fields[j]
	reach, least := max(1, f.FWHM.V/2), noLight*math.Exp(ln)*z.scaleOf(j)
	at := func(s stars.Star) bool { return s.Flux > least && math.Hypot(s.X-x, s.Y-y) < reach }
	return slices.ContainsFunc(f.Stars, at) || slices.ContainsFunc(f.Broad, at) || slices.ContainsFunc(f.Points, at)
}

// noLight is the share of its light with which a star is as good as missing: what
// shines through the gaps of a tree, or a film of frost.
const noLight = 0.2

// dueStar is a star that must be there.
type dueStar struct {
	star int
	x, y float64      // where it must be, px of the field
	seen *observation // nil: missing
	odds float64      // of its being found, as the other fields tell

	together bool // missing with most of its part of the field
}

// findDue fills due by field, and keeps the stars that most of the fields show in
// which they must be: what only a few show (second images of a jump, knots on a
// spike, a passing satellite) is no star that others lack. Those that lack it together
// with all around it are covered, and do not count against it.
func (z *zeroPoints) findDue() {
	z.dues = make([][]*dueStar, len(z.fields))
	needed := z.neededLight()
	z.eachField(func(j int) {
		if z.why[j] == "" && z.useful(j) >= minMatched {
			z.dues[j] = z.due(j, needed)
		}
	})
	could, has := z.countDue(func(int, *dueStar) bool { return true })
	bare := z.bareOf(could, has)
	z.lacked = make([][]*dueStar, len(z.fields))
	for j, dues := range z.dues {
		z.dues[j] = slices.DeleteFunc(dues, func(d *dueStar) bool {
			shown := 2*has[d.star] > could[d.star]-bare[d.star]
			if !shown && d.seen == nil && has[d.star] >= severalShow {
				z.lacked[j] = append(z.lacked[j], d)
			}
			return !shown
		})
	}
	z.forgiveCovered()
	z.oddsOfDue()
}

// countDue counts by star the fields in which it must be, of those that count, and those of
// them that show it.
func (z *zeroPoints) countDue(counts func(j int, d *dueStar) bool) (could, has []int) {
	could, has = make([]int, len(z.star)), make([]int, len(z.star))
	for j := range z.dues {
		for _, d := range z.dues[j] {
			if !counts(j, d) {
				continue
			}
			could[d.star]++
			if d.seen != nil {
				has[d.star]++
			}
		}
	}
	return could, has
}

// oddsOfDue tells how probably each star that must be there is found, as the other fields
// tell that are complete.
func (z *zeroPoints) oddsOfDue() {
	complete := z.complete()
	counts := func(j int, d *dueStar) bool { return complete[j] && !d.together }
	could, has := z.countDue(counts)
	for j := range z.dues {
		for _, d := range z.dues[j] {
			others, found := could[d.star], has[d.star]
			if counts(j, d) {
				others--
				if d.seen != nil {
					found--
				}
			}
			d.odds = (float64(found) + 1) / (float64(others) + 1 + lostAlone)
		}
	}
}

// severalShow is how many fields show a star that may be covered in all others.
const severalShow = 3

// bareOf is in how many fields each star, which fewer than half show but several, lies in
// a part that holds hardly any star of those that other fields show there, nor others.
func (z *zeroPoints) bareOf(could, has []int) []int {
	bare := make([]int, len(could))
	if !slices.ContainsFunc(z.dues, func(dues []*dueStar) bool {
		return slices.ContainsFunc(dues, func(d *dueStar) bool { return has[d.star] >= severalShow && 2*has[d.star] <= could[d.star] })
	}) {
		return bare
	}
	for j, dues := range z.dues {
		several := slices.DeleteFunc(slices.Clone(dues), func(d *dueStar) bool { return has[d.star] < severalShow })
		for star := range z.bareStars(j, several) {
			bare[star]++
		}
	}
	return bare
}

// bareStars are those missing in the parts of a field, beside others, that hold hardly any:
// what covers a field ends across parts, so that smaller ones, where there are stars for
// them, tell more of it.
func (z *zeroPoints) bareStars(j int, dues []*dueStar) map[int]bool {
	bare := map[int]bool{}
	for side := 2 * stars.Parts; side > 1; side /= 2 {
		if len(dues) < starsForPart*side*side {
			continue
		}
		own := starsIn(z.fields[j], side)
		few := fewInPart * stats.Mean(own)
		for p, part := range inParts(z.fields[j], dues, side) {
			if !lacking(part) || own[p] > few {
				continue
			}
			for _, d := range part {
				if d.seen == nil {
					bare[d.star] = true
				}
			}
		}
	}
	return bare
}

// hidesShare of a field's stars beyond the usual share are missing where cloud or
// frost hides them: seeing alone merges fewer.
const hidesShare = 0.1

// complete tells which fields miss no more stars than the best quarter of them
// does, but for hidesShare and three standard deviations: these tell which stars are
// easily missed. So do those of broader stars, which miss what merges.
func (z *zeroPoints) complete() []bool {
	var share, widths []float64
	missing := make([]float64, len(z.dues))
	for j, dues := range z.dues {
		if missing[j] = goneOf(dues); len(dues) > 0 {
			share = append(share, missing[j]/float64(len(dues)))
			if w := z.fields[j].FWHM; w.OK() { // rings have none
				widths = append(widths, w.V)
			}
		}
	}
	out := make([]bool, len(z.dues))
	if len(share) == 0 {
		return out
	}
	usual := max(stats.Quantile(share, 0.25), lostAlone)
	broad := math.Inf(1)
	if len(widths) > 0 {
		broad = broader * stats.Quantile(widths, 0.25)
	}
	for j, dues := range z.dues {
		expected := usual * float64(len(dues))
		few := missing[j] <= expected+3*math.Sqrt(expected)+hidesShare*float64(len(dues))
		out[j] = few || z.fields[j] != nil && z.fields[j].FWHM.V > broad
	}
	return out
}

// forgiveCovered marks the stars that are missing together with their neighbours:
// what is covered in many subs is no star that is easily missed.
func (z *zeroPoints) forgiveCovered() {
	for j := range z.dues {
		for _, part := range z.duesByPart(j) {
			if !lacking(part) {
				continue
			}
			for _, d := range part {
				d.together = d.seen == nil
			}
		}
	}
}

// lostAlone is how many more of its subs than those seen a star is taken to be
// missing in: one in fifty is lost without a cause (blends, particles).
const lostAlone = 0.02
