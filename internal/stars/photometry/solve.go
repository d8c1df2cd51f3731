package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// solve alternates between stars, fields and what stars are worth until the zero points
// rest. At first all stars count, until it is known which fields are under patchy cloud; then
// each star's share falls smoothly with its residual: stars that were
// taken in and left out in turn kept such groups from resting.
func (z *zeroPoints) solve() {
	for round := range mostRounds {
		z.solveStars()
		apart := z.solveFields()
		if round == settled {
			z.eachField(z.lift)
		}
		z.eachField(func(j int) { z.trust(j, round < settled) })
		if round > 0 && round <= settled {
			z.setFloor()
		}
		if round > settled && apart < restApart {
			break
		}
	}
	z.spread = z.spreadOf()
}

const (
	// mostRounds end a solution that does not rest; restApart is how far apart, in ln flux,
	// zero points may move from one to the next: a hundredth of what a star is off by.
	mostRounds, restApart = 40, 1e-4
	// settled is the round from which on it is settled which stars are surely seen: those at
	// the limit would change it with the zero points, and these with them.
	settled = 6
)

// solveStars gives every star its weighted mean flux, with the fields' zero points taken
// off, a field of patchy cloud counting for less; that of all where none has a share. A star
// that stands behind a cover's rim or a gap in it is fainter there: where others show it,
// these tell.
func (z *zeroPoints) solveStars() {
	sum, weight := make([]float64, len(z.star)), make([]float64, len(z.star))
	shared, open := make([]bool, len(z.star)), make([]int, len(z.star))
	for j, obs := range z.obs {
		for k := range obs {
			if o := &obs[k]; o.bright > 0 && !z.veiled[j] {
				open[o.star]++
			}
		}
	}
	tells := func(j int, o *observation) bool { return !z.veiled[j] || open[o.star] < openFields }
	for j, obs := range z.obs {
		for k := range obs {
			if o := &obs[k]; o.share > 0 && tells(j, o) {
				shared[o.star] = true
			}
		}
	}
	clear(z.seen)
	for j, obs := range z.obs {
		for k := range obs {
			o := &obs[k]
			if !(o.bright > 0) {
				continue
			}
			z.seen[o.star]++
			if !tells(j, o) {
				continue
			}
			w := z.weight(j, o)
			if !shared[o.star] {
				w = o.bright / z.starVariance(o)
			}
			sum[o.star] += w * (o.ln - z.zero[j])
			weight[o.star] += w
		}
	}
	for i := range z.star {
		if weight[i] > 0 {
			z.star[i] = sum[i] / weight[i]
		}
	}
}

// openFields are as many fields without a cover as tell a star's light alone.
const openFields = 2

// solveFields gives every field its zero point, by the middle star: neighbours make others
// brighter or fainter, but hardly as many of one as of the other. How far they moved apart
// is given: by what all move the stars move back, and no ratio tells.
func (z *zeroPoints) solveFields() (apart float64) {
	moved := slices.Repeat([]float64{math.NaN()}, len(z.obs))
	z.eachField(func(j int) {
		if z.useful(j) < minMatched {
			return
		}
		v := z.middle(j)
		moved[j] = v - z.zero[j]
		z.zero[j] = v
	})
	moved = slices.DeleteFunc(moved, math.IsNaN)
	if len(moved) == 0 {
		return 0
	}
	return slices.Max(moved) - slices.Min(moved)
}

// liftShare of a field's stars, all brighter than the others, are those that nothing covers.
const liftShare = 0.15

// liftFrom is how many times as bright these are at least.
const liftFrom = 3

// lift takes a field's zero point from the stars behind a cover to those beside it, where the
// most are behind: chance and neighbours make few stars so much brighter, and patches of cloud
// more stars not quite so bright. Fainter stars than are surely seen behind the cover are among
// them.
func (z *zeroPoints) lift(j int) {
	var beyond []float64
	var n, between float64
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if z.seen[o.star] < 2 || !z.counts(j, o) {
			continue
		}
		n++
		switch r := z.residual(j, o); {
		case r > math.Log(liftFrom):
			beyond = append(beyond, r)
		case r > math.Log(liftFrom)/2:
			between++
		}
	}
	if len(beyond) >= minMatched && float64(len(beyond)) > max(liftShare*n, between) {
		z.zero[j] += stats.Median(beyond)
		z.brightIn(j)
	}
}

// middle is the middle one of a field's stars, of what is no blend where enough is none.
func (z *zeroPoints) middle(j int) float64 {
	some := z.telling(j, func(o *observation) bool { return z.counts(j, o) })
	if len(some) < minMatched {
		some = z.telling(j, nil)
	}
	d, w := make([]float64, len(some)), make([]float64, len(some))
	for k, o := range some {
		d[k], w[k] = o.ln-z.star[o.star], z.weight(j, o)
	}
	return stats.WeightedMedian(d, w)
}

const (
	// outlying is the residual, in sd, from which on a star has no share in the solution
	// (the weight of Tukey's biweight, with his constant; from memory).
	outlying = 4.685
	// barelySeen is the ln flux beyond what is surely seen over which a star's share rises
	// to its whole.
	barelySeen = 0.2
)

// trust tells how much of each star of a field the solution may rest on: nothing of outliers,
// nor of stars too faint to be surely seen, as far as that is open.
func (z *zeroPoints) trust(j int, open bool) {
	if z.why[j] != "" {
		return
	}
	if open {
		z.brightIn(j)
	}
	z.unevenOf(j)
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if o.share = o.bright; open {
			continue
		}
		r := z.residual(j, o)
		in := max(0, 1-r*r/(outlying*outlying*z.variance(j, o)))
		o.share *= in * in
	}
}

// brightIn tells which stars of a field are surely seen; where these are few, the fainter ones
// must do.
func (z *zeroPoints) brightIn(j int) {
	n := 0
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		o.bright = min(max(o.seenFor(z.star[o.star]+z.zero[j])/barelySeen, 0), 1)
		if z.tells(o) {
			n++
		}
	}
	z.sparse[j] = z.sparse[j] || n < 2*minMatched
	for k := range z.obs[j] {
		if z.sparse[j] {
			z.obs[j][k].bright = 1
		}
	}
}

// fewestUneven stars tell how uneven a field is, or half of them.
const fewestUneven = 12

// unevenOf takes a step towards the sd from star to star that makes half of a field's
// residuals smaller than half of a normal distribution's: about their median, which does not
// go with it as the zero point does. The half that others show brighter tells: patches are in
// their light as in that of others, and less of what neighbours add. Stars behind a cover are
// without light and tell of no patches: where it stands before half of a field, what the
// other half shows would seem to differ by all of the light.
func (z *zeroPoints) unevenOf(j int) {
	lit := math.Log(noLight)
	some := z.telling(j, func(o *observation) bool { return !(z.residual(j, o) < lit) })
	if len(some) == 0 {
		return
	}
	ln := make([]float64, len(some))
	for k, o := range some {
		ln[k] = z.star[o.star]
	}
	least := stats.SelectKth(ln, max(0, min(len(some)/2, len(some)-fewestUneven)))
	some = slices.DeleteFunc(some, func(o *observation) bool { return z.star[o.star] < least })
	variances := make([]float64, len(some))
	for k, o := range some {
		variances[k] = z.starVariance(o)
	}
	pulls := make([]float64, len(some))
	for k, o := range some {
		pulls[k] = z.residual(j, o)
	}
	middle, uneven := stats.Median(pulls), z.uneven[j]*z.uneven[j]
	for k := range pulls {
		pulls[k] -= middle
	}
	to := stats.BeyondErrors(pulls, variances, uneven)
	z.uneven[j] = math.Sqrt((uneven + to) / 2) // a whole step may be too long, and back
}

// setFloor takes a step towards what the stars' fluxes scatter by, from field to field, beyond
// their noise: by those of which this may hide little.
func (z *zeroPoints) setFloor() {
	var away, variances []float64
	for j := range z.obs {
		if z.why[j] != "" {
			continue
		}
		for _, o := range z.telling(j, func(o *observation) bool { return o.sigma < stars.Systematic && z.counts(j, o) }) {
			n := float64(z.seen[o.star])
			away = append(away, z.residual(j, o)*math.Sqrt(n/(n-1)))
			variances = append(variances, o.sigma*o.sigma)
		}
	}
	if len(away) < fewestFloor {
		return
	}
	z.floor = min(max(math.Sqrt(stats.BeyondErrors(away, variances, z.floor*z.floor)), leastFloor), stars.Systematic)
}

// leastFloor is the least of ln flux that noise does not explain: flat fields, and air that
// scintillates over apertures of 5 to 10 cm in a minute (Young 1967, AJ 72, 747, from memory).
const leastFloor = 0.003

// fewestFloor stars in all fields together tell the floor: to a fifth, as the middle
// deviation of so many does.
const fewestFloor = 40

// spreadOf is the factor by which the residuals of all fields exceed the stars' errors, 1 at
// least.
func (z *zeroPoints) spreadOf() float64 {
	var pulls []float64
	for j := range z.obs {
		if z.why[j] == "" {
			for _, o := range z.telling(j, nil) {
				pulls = append(pulls, math.Abs(z.residual(j, o))/math.Sqrt(z.starVariance(o)))
			}
		}
	}
	if len(pulls) == 0 {
		return 1
	}
	return max(1, stats.MADToSigma*stats.MedianInPlace(pulls))
}
