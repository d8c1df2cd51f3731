package photometry

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// Limits of the solution.
const (
	// surelySeen is the significance a star must be expected to have in a sub
	// before its flux there is used: nearer to the threshold only its upward
	// fluctuations are detected (Eddington 1913, MNRAS 73, 359).
	surelySeen = 9
	// minMatched is the fewest stars that give a zero point.
	minMatched = 4
)

// observation is one star in one field.
type observation struct {
	star   int     // number of the star
	index  int     // in the field's list
	ln     float64 // ln of the flux for the first field's exposure and gain
	sigma  float64 // of ln, without the floor
	faint  float64 // ln by which the star may be brighter here and not surely be seen
	x, y   float64
	bright float64 // 1: surely seen, 0: not so, see brightIn
	share  float64 // of its weight that the solution rests on, see trust

	blend    bool    // of several stars, or a knot
	confused float64 // part of sigma: what fainter stars around add or take, see fainterLight

	err, variance float64 // by sigma, with the floor, see weigh
}

// aloneFewest is how many stars that stand alone do to compare a field by.
const aloneFewest = 8

// counts tells whether a star counts for what the middle of a field's stars is, or their
// mean: blends and the knots of nebulae, which may outnumber the stars, change their light
// together with the seeing, and do not where enough others are there.
func (z *zeroPoints) counts(j int, o *observation) bool {
	return !o.blend || z.alone[j] < aloneFewest
}

// weigh gives the observations the errors that their sigma makes, with what no noise
// explains: as much as the stars of the group show, which is at most what any may have.
func (z *zeroPoints) weigh() {
	z.eachField(func(j int) {
		for k := range z.obs[j] {
			o := &z.obs[j][k]
			o.variance = o.sigma*o.sigma + z.floor*z.floor
			o.err = math.Sqrt(o.variance)
		}
	})
}

// leastFloor is the least of ln flux that noise does not explain: flat fields, and air that
// scintillates over apertures of 5 to 10 cm in a minute (Young 1967, AJ 72, 747, from memory).
const leastFloor = 0.003

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
	z.weigh()
}

// fewestFloor stars in all fields together tell the floor: to a fifth, as the middle
// deviation of so many does.
const fewestFloor = 40

// seenFor is by how much ln flux is beyond what would be seen for sure here, were it the
// predicted one.
func (o *observation) seenFor(predicted float64) float64 { return predicted - o.ln - o.faint }

// besides is the error of ln flux that a neighbour's share makes, which changes
// with the seeing.
const besides = 0.1

// place is one in the reference's pixels.
type place struct{ x, y float64 }

type zeroPoints struct {
	fields []*stars.Field
	al     []registration.Alignment
	obs    [][]observation // by field
	why    []fact.Code     // by field: why it has no zero point
	star   []float64       // ln flux of each star in the mean system
	seen   []int           // in how many fields
	zero   []float64       // ln zero point of each field
	floor  float64         // sd of ln flux from field to field that no noise explains
	spread float64         // factor by which residuals exceed their sigma
	scale  []float64       // of each field, nil: all 1
	place  []place         // of each star, in the reference's pixels
	dues   [][]dueStar     // by field: the stars that must be there
	lacked [][]dueStar     // by field: those missing that most of the fields lack, but several show
	merged [][]bool        // by field: whether each star's image is one with another's
	uneven []float64       // by field: sd of ln flux from star to star that their errors do not explain: patches of cloud
	alone  []int           // by field: how many stars are bright enough and no blends
	left   []int           // by field: how many pairs are left out: knots, saturated stars
	hidden []float64       // by field: share whose sky is hidden, see unlit
	veiled []bool          // by field: a part of it is covered, or under thick cloud
	sparse []bool          // by field: so few stars are surely seen that the fainter ones must do
}

func (z *zeroPoints) scaleOf(j int) float64 {
	if z.scale != nil && z.scale[j] > 0 {
		return z.scale[j]
	}
	return 1
}

func newZeroPoints(fields []*stars.Field, al []registration.Alignment, scale []float64) *zeroPoints {
	n := len(fields)
	z := &zeroPoints{fields: fields, al: al, scale: scale, obs: make([][]observation, n), why: make([]fact.Code, n), zero: make([]float64, n), floor: stars.Systematic, spread: 1,
		alone: make([]int, n), left: make([]int, n), sparse: make([]bool, n), hidden: make([]float64, n), veiled: make([]bool, n), uneven: make([]float64, n)}
	saturated := saturatedOf(fields, al)
	number := make([]int, len(saturated)) // of those that have one, counted from 1
	knots, _ := registration.KnotVotes(fields, al)
	for j, f := range fields {
		if f == nil || !al[j].Matched() {
			z.why[j] = stars.NotMatched
			continue
		}
		z.obs[j] = make([]observation, 0, len(al[j].Pairs))
		alone := enoughStars(al[j].Pairs, knots)
		for _, p := range al[j].Pairs {
			s := &f.Stars[p[0]]
			if saturated[p[1]] || alone && knots[p[1]] > 0 || !(s.Flux > 0) || !(s.FluxErr > 0) {
				z.left[j]++
				continue
			}
			if number[p[1]] == 0 {
				x, y := al[j].Transform.Apply(s.X, s.Y)
				z.place = append(z.place, place{x, y})
				number[p[1]] = len(z.place)
			}
			z.observe(j, p[0], number[p[1]]-1)
		}
	}
	z.star, z.seen = make([]float64, len(z.place)), make([]int, len(z.place))
	z.findMerged()
	z.weigh()
	return z
}

// observe notes a star, by its number and by its index in field j.
func (z *zeroPoints) observe(j, index, star int) {
	s := &z.fields[j].Stars[index]
	sigma, blend := s.FluxErr/s.Flux, s.Blended || s.Knot
	if blend {
		sigma = math.Hypot(sigma, besides)
	} else if s.Flux > surelySeen*s.FluxErr {
		z.alone[j]++
	}
	z.obs[j] = append(z.obs[j], observation{star: star, index: index, ln: math.Log(s.Flux / z.scaleOf(j)), sigma: sigma, blend: blend,
		faint: math.Log(surelySeen * s.FluxErr / s.Flux), x: s.X, y: s.Y, bright: 1, share: 1})
}

// saturatedOf tells which stars of the reference, by index, are saturated in some field.
func saturatedOf(fields []*stars.Field, al []registration.Alignment) []bool {
	some := make([]bool, referenceStars(al))
	for j, f := range fields {
		if f == nil || !al[j].Matched() {
			continue
		}
		for _, p := range al[j].Pairs {
			some[p[1]] = some[p[1]] || f.Stars[p[0]].Saturated
		}
	}
	return some
}

// enoughStars tells whether enough of the pairs of a field are no knots to do without
// these: another part of a knot's light is summed in each seeing.
func enoughStars(pairs [][2]int, knots map[int]int) bool {
	n := 0
	for _, p := range pairs {
		if knots[p[1]] <= 0 {
			n++
		}
	}
	return n >= minMatched
}

// referenceStars is how many of the reference's stars have a number that a pair names.
func referenceStars(al []registration.Alignment) (n int) {
	for _, a := range al {
		for _, p := range a.Pairs {
			n = max(n, p[1]+1)
		}
	}
	return n
}

// solve alternates between stars, fields and what stars are worth until the zero points
// rest. At first all stars count, until it is known which fields are under patchy cloud; then
// each star's share falls smoothly with its residual: stars that were
// taken in and left out in turn kept such groups from resting.
func (z *zeroPoints) solve() {
	for round := range mostRounds {
		z.solveStars()
		apart := z.solveFields()
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
				w = o.bright / o.variance
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

// weight of a star in field j: by its own error and by what patches of cloud make there.
func (z *zeroPoints) weight(j int, o *observation) float64 {
	return o.share / z.variance(j, o)
}

// variance of a star's ln flux in field j: of its own error and of patches of cloud.
func (z *zeroPoints) variance(j int, o *observation) float64 {
	return o.variance + z.uneven[j]*z.uneven[j]
}

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
		variances[k] = o.variance
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

// telling are the stars that tell a field's zero point, of those that are asked for (nil:
// of all).
func (z *zeroPoints) telling(j int, asked func(o *observation) bool) []*observation {
	some := make([]*observation, 0, len(z.obs[j]))
	for k := range z.obs[j] {
		if o := &z.obs[j][k]; z.tells(o) && (asked == nil || asked(o)) {
			some = append(some, o)
		}
	}
	return some
}

// spreadOf is the factor by which the residuals of all fields exceed the stars' errors, 1 at
// least.
func (z *zeroPoints) spreadOf() float64 {
	var pulls []float64
	for j := range z.obs {
		if z.why[j] == "" {
			for _, o := range z.telling(j, nil) {
				pulls = append(pulls, math.Abs(z.residual(j, o))/o.err)
			}
		}
	}
	if len(pulls) == 0 {
		return 1
	}
	return max(1, stats.MADToSigma*stats.MedianInPlace(pulls))
}

// tells tells whether a star is surely seen in its field, and in another.
func (z *zeroPoints) tells(o *observation) bool { return o.bright > 0 && z.seen[o.star] > 1 }

// agreeing is how many of a field's stars differ by no more than their own errors explain.
func (z *zeroPoints) agreeing(j int) (n int) {
	for k := range z.obs[j] {
		if o := &z.obs[j][k]; z.tells(o) && math.Abs(z.residual(j, o)) < 4*z.spread*o.err {
			n++
		}
	}
	return n
}

func (z *zeroPoints) residual(j int, o *observation) float64 {
	return o.ln - z.star[o.star] - z.zero[j]
}

// useful is how many stars tell a field's zero point: none where so few of its stars do, and
// agree so little, that chance may have matched them. Cloud in patches lets a different
// share of each through.
func (z *zeroPoints) useful(j int) (n int) {
	known := 0
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if z.tells(o) {
			n++
		}
		if z.seen[o.star] > 1 {
			known++
		}
	}
	if 2*known < z.fields[j].Count-z.left[j] {
		n = min(n, z.agreeing(j))
	}
	return n
}
