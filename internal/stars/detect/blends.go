package detect

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/plane"
	"fitsqa/internal/stats"
)

// Stars that stand so close that each has a part of the other's light are found in
// three ways: two detections near each other; one that is broader under the filter
// than its like; and one that no single star fits.

// flagBroad marks stars that are broader than those around them:
// pairs too close for the search to part. Seen through the filter, two like
// stars one FWHM apart have 1.3 times the mean square radius of one. What
// centring, noise and the place within a pixel do to single stars is told by
// those below the median, where there are no pairs.
func flagBroad(p *plane.Plane, list []stars.Star, spreads []float64) {
	usual := usualSpreads(p, list, spreads)
	if usual == nil {
		return
	}
	above := func(i int) float64 { return spreads[i]/usual[i] - 1 }
	const noise = 2.0 // over signal to noise: two to three sigma of the spread
	var below []float64
	for i := range list {
		if a := above(i); a < 0 && list[i].SNR > 20 {
			below = append(below, -a-noise/list[i].SNR)
		}
	}
	margin := 0.05
	if len(below) > 0 {
		margin = max(margin, 1.5*stats.Quantile(below, 0.95))
	}
	for i := range list {
		if above(i) > margin+noise/list[i].SNR {
			list[i].Blended = true
		}
	}
}

// usualSpreads are the spreads that single stars have where each star is, nil of too few: that
// of its part of the field, or of its neighbours, where these parts hold too few but the
// spreads change smoothly over the field.
func usualSpreads(p *plane.Plane, list []stars.Star, spreads []float64) []float64 {
	const side, fewest, few = 4, 5, 15
	parts := make([][]float64, side*side)
	part := func(st *stars.Star) int { return stars.PartOf(st.X, st.Y, p.W, p.H, side) }
	var places []stars.Place
	var sure []float64
	for i := range list {
		if st := &list[i]; st.SNR > 20 {
			parts[part(st)] = append(parts[part(st)], spreads[i])
			places, sure = append(places, stars.Place{X: st.X, Y: st.Y}), append(sure, spreads[i])
		}
	}
	if len(sure) < fewest {
		return nil
	}
	usual := stars.UsualOf(parts, few)
	around := len(sure) >= 2*fewAround && len(sure) < few*side*side && stars.Smoothly(places, sure)
	single, knots := singleSpread(p, list, spreads)
	out := make([]float64, len(list))
	for i := range list {
		switch st := &list[i]; {
		case around:
			out[i] = aroundAt(stars.Place{X: st.X, Y: st.Y}, places, sure)
		case knots:
			out[i] = single
		default:
			out[i] = usual[part(st)]
		}
	}
	return out
}

// fewAround are the neighbours whose middle one tells what is usual at a place.
const fewAround = 9

// aroundAt is the middle value of the images nearest to a place: each of these in turn takes
// its place among those found before, the nearest first.
func aroundAt(at stars.Place, images []stars.Place, values []float64) float64 {
	var far, value [fewAround]float64
	n := 0
	for k, o := range images {
		dx, dy := o.X-at.X, o.Y-at.Y
		d := dx*dx + dy*dy
		if n == fewAround && d >= far[n-1] {
			continue
		}
		n = min(n+1, fewAround)
		i := n - 1
		for ; i > 0 && far[i-1] > d; i-- {
			far[i], value[i] = far[i-1], value[i-1]
		}
		far[i], value[i] = d, values[k]
	}
	return stats.MedianInPlace(value[:n])
}

// Spreads of single stars are alike within a fifth; where those of half the images are
// larger by an eighth and more than what a quarter at least has in common, these are no
// single stars.
const spreadAlike, spreadApart, spreadShare = 1.2, 1.125, 0.25

// singleSpread is the spread of single stars where half of the images and more are
// broader ones all over the field, as knots of galaxies among few stars are; false where
// most are single, where it is the focus that changes over the field, or where so many fill it
// that the broader ones are several stars.
func singleSpread(p *plane.Plane, list []stars.Star, spreads []float64) (float64, bool) {
	var sure []int
	for i := range list {
		if list[i].SNR > 20 {
			sure = append(sure, i)
		}
	}
	slices.SortStableFunc(sure, func(a, b int) int { return cmp.Compare(spreads[a], spreads[b]) })
	sorted := make([]float64, len(sure))
	places := make([]stars.Place, len(sure))
	for k, i := range sure {
		sorted[k], places[k] = spreads[i], stars.Place{X: list[i].X, Y: list[i].Y}
	}
	for from := range sorted {
		to := alikeTo(sorted, from, spreadAlike)
		if n := to - from; n >= 6 && float64(n) >= spreadShare*float64(len(sorted)) {
			single := sorted[from+n/2]
			return single, sorted[len(sorted)/2] > spreadApart*single && filled(p, len(list), single) < stars.CrowdedFrom && stars.AllOver(places, places[from:to], p.W, p.H) && stars.Evenly(places[from:to], p.W, p.H)
		}
	}
	return 0, false
}

// filled is the share of a field that so many images of a spread fill, each as the square of its
// FWHM: the light of a Gaussian that a filter like it lets through has half its mean square radius.
func filled(p *plane.Plane, images int, spread float64) float64 {
	return float64(images) * stars.SigmaToFWHM * stars.SigmaToFWHM * spread / float64(p.W*p.H)
}

// flagBlends marks stars whose neighbour puts a noticeable part of its light on them.
func flagBlends(list []stars.Star, s Seeing) {
	reach := 2.5 * s.Fwhm
	ix := stars.NewNeighbours(list)
	for i := range list {
		ix.Within(list[i].X, list[i].Y, reach, func(j int) {
			o := &list[j]
			if j == i {
				return
			}
			d := math.Hypot(o.X-list[i].X, o.Y-list[i].Y) / s.Fwhm
			// The neighbour's wing at the star's place, as a Moffat of
			// exponent 3, against a twentieth of the star's own height.
			wing := math.Pow(1+1.04*d*d, -3)
			if o.Flux*wing*6 > 0.05*list[i].Flux {
				list[i].Blended = true
			}
		})
	}
}
