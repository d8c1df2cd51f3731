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
	sigma  float64 // of ln, without the systematic floor
	faint  float64 // ln by which the star may be brighter here and not surely be seen
	x, y   float64
	useful bool

	confused float64 // part of sigma: what fainter stars around add or take, see fainterLight

	err, weight float64 // by sigma, with the systematic floor, see weigh
}

// weigh gives an observation the error and the weight that its sigma makes.
func (o *observation) weigh() {
	variance := o.sigma*o.sigma + stars.Systematic*stars.Systematic
	o.err, o.weight = math.Sqrt(variance), 1/variance
}

// surelySeen tells whether the star would be seen for sure here, were its ln flux
// the predicted one.
func (o *observation) surelySeen(predicted float64) bool { return predicted-o.ln > o.faint }

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
	spread float64         // factor by which residuals exceed their sigma
	scale  []float64       // of each field, nil: all 1
	place  []place         // of each star, in the reference's pixels
	dues   [][]dueStar     // by field: the stars that must be there
	merged [][]bool        // by field: whether each star's image is one with another's
	uneven []float64       // by field: factor by which its residuals exceed their errors, 1 at least
	patchy []bool          // by field: so few stars agree that all are taken, and tell nothing of each other
}

func (z *zeroPoints) scaleOf(j int) float64 {
	if z.scale != nil && z.scale[j] > 0 {
		return z.scale[j]
	}
	return 1
}

func newZeroPoints(fields []*stars.Field, al []registration.Alignment, scale []float64) *zeroPoints {
	z := &zeroPoints{fields: fields, al: al, obs: make([][]observation, len(fields)), why: make([]fact.Code, len(fields)),
		zero: make([]float64, len(fields)), spread: 1, scale: scale, patchy: make([]bool, len(fields)), uneven: make([]float64, len(fields))}
	for j := range z.uneven {
		z.uneven[j] = 1
	}
	saturated := make([]bool, referenceStars(al)) // by index in the reference
	number := make([]int, len(saturated))         // of those that have one, counted from 1
	knots, _ := registration.KnotVotes(fields, al)
	for pass := range 2 {
		for j, f := range fields {
			if f == nil || !al[j].Matched() {
				z.why[j] = stars.NotMatched
				continue
			}
			k := z.scaleOf(j)
			if pass == 1 {
				z.obs[j] = make([]observation, 0, len(al[j].Pairs))
			}
			alone := enoughStars(al[j].Pairs, knots)
			for _, p := range al[j].Pairs {
				s := &f.Stars[p[0]]
				if pass == 0 {
					saturated[p[1]] = saturated[p[1]] || s.Saturated
					continue
				}
				if saturated[p[1]] || alone && knots[p[1]] > 0 || !(s.Flux > 0) || !(s.FluxErr > 0) {
					continue
				}
				if number[p[1]] == 0 {
					x, y := al[j].Transform.Apply(s.X, s.Y)
					z.place = append(z.place, place{x, y})
					number[p[1]] = len(z.place)
				}
				sigma := s.FluxErr / s.Flux
				if s.Blended || s.Knot {
					sigma = math.Hypot(sigma, besides)
				}
				z.obs[j] = append(z.obs[j], observation{star: number[p[1]] - 1, index: p[0], ln: math.Log(s.Flux / k), sigma: sigma,
					faint: math.Log(surelySeen * s.FluxErr / s.Flux), x: s.X, y: s.Y, useful: true})
			}
		}
	}
	z.star, z.seen = make([]float64, len(z.place)), make([]int, len(z.place))
	z.findMerged()
	z.eachField(func(j int) {
		for k := range z.obs[j] {
			z.obs[j][k].weigh()
		}
	})
	return z
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

// solve alternates between stars and fields until the zero points rest.
func (z *zeroPoints) solve() {
	for round := range 12 {
		z.solveStars()
		apart := z.solveFields()
		if round >= 2 {
			z.reject()
		}
		if round > 4 && apart < 1e-4 {
			break
		}
	}
}

// solveStars gives every star its weighted mean flux, with the fields' zero
// points taken off, a field of patchy cloud counting for less; robustly by the median
// at the start, when zero points are still unknown.
func (z *zeroPoints) solveStars() {
	sum, weight := make([]float64, len(z.star)), make([]float64, len(z.star))
	clear(z.seen)
	for j, obs := range z.obs {
		if z.patchy[j] {
			continue
		}
		for _, o := range obs {
			if o.useful {
				w := o.weight / (z.uneven[j] * z.uneven[j])
				sum[o.star] += w * (o.ln - z.zero[j])
				weight[o.star] += w
				z.seen[o.star]++
			}
		}
	}
	for i := range z.star {
		if weight[i] > 0 {
			z.star[i] = sum[i] / weight[i]
		}
	}
}

// solveFields gives every field its zero point, and how far they moved apart: by what all
// move the stars move back, and no ratio tells. Means and medians that differ make it a
// constant drift.
func (z *zeroPoints) solveFields() (apart float64) {
	moved := slices.Repeat([]float64{math.NaN()}, len(z.obs))
	z.eachField(func(j int) {
		d, w := make([]float64, 0, len(z.obs[j])), make([]float64, 0, len(z.obs[j]))
		for _, o := range z.obs[j] {
			if o.useful && z.seen[o.star] > 1 {
				d = append(d, o.ln-z.star[o.star])
				w = append(w, o.weight)
			}
		}
		if len(d) < minMatched {
			return
		}
		v := stats.WeightedMedian(d, w)
		if z.patchy[j] {
			v = stats.Median(d)
		}
		moved[j] = v - z.zero[j]
		z.zero[j] = v
	})
	moved = slices.DeleteFunc(moved, math.IsNaN)
	if len(moved) == 0 {
		return 0
	}
	return slices.Max(moved) - slices.Min(moved)
}

// reject marks what the solution must not rest on: outliers, and stars too
// faint to be surely seen.
func (z *zeroPoints) reject() {
	pulls := make([][]float64, len(z.obs))
	z.eachField(func(j int) {
		pulls[j] = make([]float64, 0, len(z.obs[j]))
		for _, o := range z.obs[j] {
			if o.useful {
				pulls[j] = append(pulls[j], math.Abs(z.residual(j, o))/o.err)
			}
		}
	})
	pull := slices.Concat(pulls...)
	if len(pull) == 0 {
		return
	}
	z.spread = max(1, stats.MADToSigma*stats.MedianInPlace(pull))
	z.eachField(func(j int) {
		if z.why[j] != "" {
			return
		}
		obs := z.obs[j]
		for k := range obs {
			o := &obs[k]
			o.useful = o.surelySeen(z.star[o.star]+z.zero[j]) && math.Abs(z.residual(j, *o)) < 4*z.spread*o.err
		}
		// In a sparse field the fainter ones must do.
		if n := z.useful(j); n < 2*minMatched {
			for k := range obs {
				obs[k].useful = math.Abs(z.residual(j, obs[k])) < 4*z.spread*obs[k].err
			}
		}
		z.acceptPatchy(j)
	})
}

// spreadOf is the factor by which a field's residuals exceed their errors: its own, which
// does not depend on how its neighbours fared, where it has the stars to tell.
func (z *zeroPoints) spreadOf(j int) float64 {
	if z.useful(j) < 2*minMatched {
		return z.spread
	}
	return z.uneven[j]
}

// acceptPatchy takes all stars of a field of which so few agree that it would have no zero
// point, where the others know them: cloud in patches lets a different share of each
// through.
func (z *zeroPoints) acceptPatchy(j int) {
	n := z.known(j)
	z.patchy[j] = z.useful(j) < minMatched && n >= minMatched && 2*n >= z.fields[j].Count
	for k := range z.obs[j] {
		o := &z.obs[j][k]
		o.useful = o.useful || z.patchy[j] && z.seen[o.star] > 1
	}
}

// patches is the error of a patchy field's ln zero point by how far its stars differ.
func (z *zeroPoints) patches(j int) float64 {
	if !z.patchy[j] {
		return 0
	}
	var d []float64
	for _, o := range z.obs[j] {
		if o.useful && z.seen[o.star] > 1 {
			d = append(d, z.residual(j, o))
		}
	}
	return math.Sqrt(stats.Variance(d) / float64(len(d)-1))
}

// known is how many of a field's stars two others than itself tell the light of.
func (z *zeroPoints) known(j int) int {
	n := 0
	for _, o := range z.obs[j] {
		others := z.seen[o.star]
		if o.useful && !z.patchy[j] {
			others--
		}
		if others > 1 {
			n++
		}
	}
	return n
}

func (z *zeroPoints) residual(j int, o observation) float64 {
	return o.ln - z.star[o.star] - z.zero[j]
}

func (z *zeroPoints) useful(j int) int {
	n := 0
	for _, o := range z.obs[j] {
		if o.useful && z.seen[o.star] > 1 {
			n++
		}
	}
	return n
}
