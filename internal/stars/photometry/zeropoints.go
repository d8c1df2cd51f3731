package photometry

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
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

// observation is one star in one field: small, since a long night has millions.
type observation struct {
	star   int32   // number of the star
	index  int32   // in the field's list
	ln     float64 // ln of the flux for the first field's exposure and gain
	sigma  float64 // of ln, without the floor
	faint  float64 // ln by which the star may be brighter here and not surely be seen
	bright float64 // 1: surely seen, 0: not so, see brightIn
	share  float64 // of its weight that the solution rests on, see trust

	blend    bool    // of several stars, or a knot
	confused float64 // part of sigma: what fainter stars around add or take, see fainterLight
}

// aloneFewest is how many stars that stand alone do to compare a field by.
const aloneFewest = 8

// counts tells whether a star counts for what the middle of a field's stars is, or their
// mean: blends and the knots of nebulae, which may outnumber the stars, change their light
// together with the seeing, and do not where enough others are there.
func (z *zeroPoints) counts(j int, o *observation) bool {
	return !o.blend || z.alone[j] < aloneFewest
}

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
	width  float64         // px, usual FWHM of the fields
	place  []place         // of each star, in the reference's pixels
	dues   [][]*dueStar    // by field: the stars that must be there
	lacked [][]*dueStar    // by field: those missing that most of the fields lack, but several show
	merged [][]bool        // by field: whether each star's image is one with another's
	uneven []float64       // by field: sd of ln flux from star to star that their errors do not explain: patches of cloud
	alone  []int           // by field: how many stars are bright enough and no blends
	left   []int           // by field: how many pairs are left out: knots, saturated stars
	pooled []pooled        // by field: what the others tell of its light
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
	z := &zeroPoints{fields: fields, al: al, scale: scale, width: usualWidth(fields), pooled: pool(fields), obs: make([][]observation, n), why: make([]fact.Code, n), zero: make([]float64, n), floor: stars.Systematic, spread: 1,
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
	return z
}

// observe notes a star, by its number and by its index in field j.
func (z *zeroPoints) observe(j, index, star int) {
	s := &z.fields[j].Stars[index]
	sigma, blend := s.FluxErr/s.Flux, s.Blended || s.Knot
	more := z.pooled[j].all
	if !s.OwnFlux {
		more += z.pooled[j].filter
	}
	if blend {
		sigma = math.Hypot(sigma, besides)
	} else if s.Flux > surelySeen*s.FluxErr {
		z.alone[j]++
	}
	z.obs[j] = append(z.obs[j], observation{star: int32(star), index: int32(index), ln: math.Log(s.Flux/z.scaleOf(j)) + more, sigma: sigma, blend: blend,
		faint: math.Log(surelySeen * s.FluxErr / s.Flux), bright: 1, share: 1})
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

// weight of a star in field j: by its own error and by what patches of cloud make there.
func (z *zeroPoints) weight(j int, o *observation) float64 {
	return o.share / z.variance(j, o)
}

// variance of a star's ln flux in field j: of its own error and of patches of cloud.
func (z *zeroPoints) variance(j int, o *observation) float64 {
	return z.starVariance(o) + z.uneven[j]*z.uneven[j]
}

// starVariance is the variance of a star's ln flux by its own error, with what no noise explains: as
// much as the stars of the group show, which is at most what any may have.
func (z *zeroPoints) starVariance(o *observation) float64 { return o.sigma*o.sigma + z.floor*z.floor }

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

// tells tells whether a star is surely seen in its field, and in another.
func (z *zeroPoints) tells(o *observation) bool { return o.bright > 0 && z.seen[o.star] > 1 }

// agreeing is how many of a field's stars differ by no more than their own errors explain.
func (z *zeroPoints) agreeing(j int) (n int) {
	for k := range z.obs[j] {
		if o := &z.obs[j][k]; z.tells(o) && math.Abs(z.residual(j, o)) < 4*z.spread*math.Sqrt(z.starVariance(o)) {
			n++
		}
	}
	return n
}

func (z *zeroPoints) residual(j int, o *observation) float64 {
	return o.ln - z.star[o.star] - z.zero[j]
}

// useful is how many stars tell a field's zero point: none where so few of its brighter half do,
// and they agree so little, that chance may have matched them. Cloud in patches lets a different
// share of each through; and where a cover darkens the sky, faint stars show that no other
// field has.
func (z *zeroPoints) useful(j int) (n int) {
	known, half := 0, z.fields[j].Count/2
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		if z.tells(o) {
			n++
		}
		if z.seen[o.star] > 1 && int(o.index) < half {
			known++
		}
	}
	if 2*known < half-z.left[j] {
		n = min(n, z.agreeing(j))
	}
	return n
}
