// Package registration brings the fields of one target onto one another: how each lies
// on a reference, points that stay at their pixels or move with the field, and motion of
// the pointing.
//
// Model: two fields of one sky differ by an affine map. It is proposed by like triangles
// of bright stars, believed when it brings more stars onto stars than chance would
// (Poisson) and than the same map moved aside does, and fitted to all pairs, weighted by
// the noise of their places. What stays at its pixel while the sky moves is no star.
// Drift and rotation are medians of slopes between pairs of subs, the dither is what the
// steps scatter about a smooth path.
//
// Sources stand at the functions: Theil 1950 and Sen 1968 for slopes, von Neumann 1941
// for differences, Lindegren 2010 for the noise of places.
//
// Limits: fewer than four stars tie nothing; distortion is left in the pairs' scatter and
// not in the map; hot pixels are told from stars only where subs point at three places 2 px
// apart.
package registration

import (
	"runtime"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/parallel"
	"fitsqa/internal/stars"
)

// Align ties fields of one target together. The result has one Alignment a
// field (with reasons where a field could not be tied) and the index of the
// reference field: a typical one (see byTypical) among those that most other
// fields can be tied to, so that a sub of a wrong target is never the
// reference, and that shows their stars.
//
// Method: triangles of the brightest stars are looked up by their sides among
// the reference's triangles; each likeness proposes a shift and a
// rotation, which is believed when it brings far more stars onto stars than
// chance would; an affine map is then fitted to all pairs, 3-sigma clipped, and
// held against maps a few pixels off (see credible). A
// field that overlaps too little with the reference is tied to it through a
// field that lies in between. Errors are by what the pairs differ: optics that bend lines
// by a thousandth move a shift by as large a part of it besides.
func Align(fields []*stars.Field) (al []Alignment, reference int) {
	al = make([]Alignment, len(fields))
	order := byTypical(fields)
	if len(order) == 0 {
		for i := range al {
			al[i] = unmatched(stars.NoneToMatch)
		}
		return al, 0
	}
	best := standing{-1, 0}
	left := slices.Clone(order)
	for try := 0; try < 3 && len(left) > 0; try++ {
		ref := left[0]
		got := alignTo(fields, ref)
		is := standingOf(got, ref, len(order))
		if is.tied > best.tied || is.tied == best.tied && is.pairs > best.pairs {
			best, al, reference = is, got, ref
		}
		switch {
		case 2*is.tied <= len(order):
			// Those that belong to this reference cannot lead to a better one.
			left = slices.DeleteFunc(left, func(i int) bool { return got[i].Matched() })
		case showsTheirs(fields, got, ref):
			return al, reference
		default:
			left = left[1:]
		}
	}
	return al, reference
}

// minStars is the fewest stars by which a field can be recognised.
const minStars = 4

// alignTo ties every field to one reference, side by side: each begins with the map of
// the one before where its brightest stars support that.
func alignTo(fields []*stars.Field, ref int) []Alignment {
	al := make([]Alignment, len(fields))
	tree := newMatcher(fields[ref])
	begun := make([]*Transform, len(fields))
	var order []int
	guess := Identity
	for i, f := range fields {
		switch {
		case f == nil:
			al[i] = unmatched(stars.NotMeasured)
		case i == ref:
			var pairs [][2]int
			for k := range f.Stars {
				pairs = append(pairs, [2]int{k, k})
			}
			al[i] = NewAlignment(f, f, Identity, pairs)
		case len(f.Stars) < minStars:
			al[i] = unmatched(stars.FewToMatch, fact.Count("stars", len(f.Stars)))
		default:
			order = append(order, i)
			if begun[i] = tree.begin(f, guess); begun[i] != nil {
				guess = *begun[i]
			}
		}
	}
	parallel.Items(len(order), runtime.GOMAXPROCS(0), func(k int) {
		i := order[k]
		al[i] = tree.match(fields[i], begun[i]).Alignment
	})
	var later []int
	guess = Identity
	for _, i := range order {
		if !al[i].Matched() { // perhaps by that of the last one matched
			if t := tree.begin(fields[i], guess); t != nil {
				al[i] = tree.match(fields[i], t).Alignment
			}
		}
		if al[i].Matched() {
			guess = al[i].Transform
		} else {
			later = append(later, i)
		}
	}
	for _, i := range later {
		al[i] = viaNeighbour(fields, al, ref, i, tree)
	}
	return al
}

// begin is the map that a field's brightest stars support near a guess; nil for none.
func (m *matcher) begin(f *stars.Field, guess Transform) *Transform {
	if t, ok := m.supported(brightest(f, 40), guess, 1); ok {
		return &t
	}
	return nil
}

// viaNeighbour ties a field through the tied field that is nearest in order and
// whose stars it shares.
func viaNeighbour(fields []*stars.Field, al []Alignment, ref, i int, tree *matcher) Alignment {
	for d := 1; d <= 3; d++ {
		for _, j := range []int{i - d, i + d} {
			if j < 0 || j >= len(fields) || j == ref || fields[j] == nil || !al[j].Matched() {
				continue
			}
			mid := newMatcher(fields[j])
			if a := mid.match(fields[i], mid.begin(fields[i], Identity)); a.Matched() {
				t := a.Transform.Then(al[j].Transform)
				if direct, ok := tree.refine(fields[i], t, 8); ok {
					return direct.Alignment
				}
				// Hardly any star is shared with the reference itself.
				return a.onwards(fields[i], fields[ref], &al[j])
			}
		}
	}
	return al[i]
}

// farthest is how far apart two images of one star may be at most, px.
const farthest = 10

// stages: how many of the brightest stars here and in the reference are
// compared, from the usual case to fields with most of their stars gone or
// seen through another filter.
var stages = []struct{ here, ref int }{{20, 25}, {35, 45}, {60, 45}}

// match finds the transform of a field to the reference, by a map begun (nil: none) or
// by triangles.
func (m *matcher) match(f *stars.Field, begun *Transform) tie {
	if begun != nil {
		if a, ok := m.refine(f, *begun, 3); ok && m.credible(f, a.Transform) {
			return m.rival(f, a)
		}
	}
	// Frames of another size show the same sky binned or cropped.
	scales := []float64{1}
	if f.Width != m.ref.Width {
		scales = append(scales, float64(m.ref.Width)/float64(f.Width))
	}
	for _, scale := range scales {
		for _, st := range stages {
			if t, ok := m.byTriangles(brightest(f, st.here), m.set(st.ref), scale); ok {
				if a, ok := m.refine(f, t, 4); ok && m.credible(f, a.Transform) {
					return m.rival(f, a)
				}
			}
		}
	}
	return tie{Alignment: unmatched(stars.OtherStars)}
}

// samePlace is the distance, px, within which two images are always one star: half a
// pixel that the middle of a pixel may be off in either field, and the map's own error.
// Different stars are hardly ever as near.
const samePlace = 1.0

// placeSigma is how many standard errors of their places two images of one star
// may be apart.
const placeSigma = 3
