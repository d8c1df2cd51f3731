package worth

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rejection is how outliers are left out of the stack.
type Rejection int

// The ways that hot pixels are counted for.
const (
	PlainMean Rejection = iota
	ByScatter           // beyond 3 standard deviations of the values themselves, again and again
	ByNoise             // beyond 5 times the known noise of one sub from the median
)

// standsOut is how many times the stack's noise a pixel is off to be seen.
// byScatter and byNoise are the limits of the two rejections.
const (
	standsOut = 5
	byScatter = 3.0
	byNoise   = 5.0
)

// defect is a hot pixel as the subs hold it after their correction, e-.
type defect struct {
	excess float64 // above the other pixels, the same in every sub
	shared float64 // variance of what is the same in every sub: its master's noise
	own    float64 // variance that each sub adds for itself beside its noise elsewhere: its shot noise
	part   float64 // of all hot pixels, those of its class
}

// crowd is what a pixel of the stack is like on which one pixel of the sensor falls
// in some of the subs.
type crowd struct {
	n, subs int      // all, and those in which it falls
	sub     float64  // e-, noise of one sub
	fixed   float64  // e-, what its pixels differ by for pattern and master
	stack   float64  // e-, noise of the stack
	defects []defect // of the sensor's classes of hot pixels, the hottest last
	draws   [][]draw // in turns: see drawsOf
}

// rejects is false where nothing can be separated: all subs, or fewer than three.
func (c crowd) rejects() bool { return c.subs < c.n && c.n >= 3 }

// stays is how many such pixels of the stack stand out for a defect of the class, which
// are counted for the hottest that meets in them.
func (c crowd) stays(class int, by Rejection) float64 {
	d := c.defects[class]
	switch {
	case by == ByNoise && c.n >= 3:
		return d.noiseStays(c)
	case !c.rejects():
		return d.meanStays(c.n, c.subs, c.stack)
	}
	left, tried := 0.0, 0.0
	for turn := range max(1, int(math.Ceil(d.part*float64(len(c.draws))))) {
		for _, w := range c.draws[(class+turn)%len(c.draws)] {
			tried += w.chance
			part := w.chance * w.share(class)
			switch {
			case part == 0:
			case by == PlainMean:
				left += part * c.mean(d, w)
			default:
				left += part * c.scatter(d, w)
			}
		}
	}
	return left / tried
}

// meanStays: nothing is rejected.
func (d defect) meanStays(n, subs int, stack float64) float64 {
	mean, variance := d.inMean(n, subs)
	return beyond(standsOut*stack, mean, math.Sqrt(stack*stack+variance))
}

// inMean is what the defect in so many subs does to the mean of n, and the variance
// that it adds.
func (d defect) inMean(n, subs int) (mean, variance float64) {
	part := float64(subs) / float64(n)
	return part * d.excess, part*part*d.shared + part*d.own/float64(n)
}

// mean is meanStays beside the hot pixels that chance brings.
func (c crowd) mean(d defect, w draw) float64 {
	mean, variance := d.inMean(c.n, c.subs)
	for _, o := range w.hot {
		m, v := c.defects[o.class].inMean(c.n, len(o.own))
		mean, variance = mean+m, variance+v
	}
	return beyond(standsOut*c.stack, mean, math.Sqrt(max(c.stack*c.stack+variance, 0)))
}

// noiseStays: what lies under the limit stays, and adds up where subs meet.
func (d defect) noiseStays(c crowd) float64 {
	n, subs, sub, stack := c.n, c.subs, c.sub, c.stack
	if 2*subs > n { // the median is the defect's: the good values are rejected
		own := d.own + sub*sub
		d.own = own*cutAtMedian(byNoise*sub/math.Sqrt(own)) - sub*sub
		return d.meanStays(n, n, stack)
	}
	s := max(math.Sqrt(sub*sub+d.own+d.shared), 1e-6*sub)
	unit := distuv.UnitNormal
	lo, hi := (-byNoise*sub-d.excess)/s, (byNoise*sub-d.excess)/s
	kept := unit.CDF(hi) - unit.CDF(lo)
	if kept < 1e-12 {
		return 0
	}
	// Mean and variance of a normal cut at both ends.
	shift := (unit.Prob(lo) - unit.Prob(hi)) / kept
	mean := d.excess + s*shift
	variance := s * s * (1 + (lo*unit.Prob(lo)-hi*unit.Prob(hi))/kept - shift*shift)
	left := 0.0
	for k := 1; k <= subs; k++ {
		chance := distuv.Binomial{N: float64(subs), P: kept}.Prob(float64(k))
		part := float64(k) / float64(n)
		left += chance * beyond(standsOut*stack, part*mean, math.Sqrt(stack*stack+part/float64(n)*max(variance, 0)))
	}
	return left
}

// cutAtMedian is by how many times the variance of the mean of many normal values grows
// where those further than limit, in their standard deviations, from the median are
// left out: that of the influence of one value on it.
func cutAtMedian(limit float64) float64 {
	unit := distuv.UnitNormal
	if limit > 8 { // nothing is cut
		return 1
	}
	kept, edge, middle := 1-2*unit.Survival(limit), unit.Prob(limit), unit.Prob(0)
	byMedian := 2 * limit * edge / kept // how far the mean follows the median
	own := (kept - 2*limit*edge) / (kept * kept)
	both := byMedian / kept * 2 * (middle - edge) / middle
	return own + both + byMedian*byMedian*math.Pi/2
}

// scatter is the same after rejection by deviation: an outlier widens the very deviation
// that it is held against, and several that meet hide each other. All values are drawn; what
// lies beyond the limit falls, again and again. Noise of the others' mean is then put in whole.
func (c crowd) scatter(d defect, w draw) float64 {
	others := math.Hypot(c.sub, c.fixed)
	y := make([]float64, 0, c.n-len(w.others))
	add := func(d defect, h hit) {
		shared, own := math.Sqrt(d.shared+c.fixed*c.fixed), math.Sqrt(d.own+c.sub*c.sub)
		for _, z := range h.own {
			y = append(y, (d.excess+shared*h.shared+own*z)/others)
		}
	}
	add(d, w.hit)
	for _, o := range w.hot {
		add(c.defects[o.class], o)
	}
	sum, outliers, rest := clipped(y, w.others)
	if outliers == 0 {
		return 0
	}
	all := float64(outliers + rest)
	return beyond(standsOut*c.stack, others*sum/all, max(others*math.Sqrt(float64(rest))/all, 1e-9*c.stack))
}

// clipped is what rejection beyond the limit leaves of outliers y among others,
// which ascend: the sum and number of outliers, and the number of the others. y is
// reordered.
func clipped(y, others []float64) (sum float64, outliers, rest int) {
	var all, squares float64
	for _, v := range y {
		sum, squares = sum+v, squares+v*v
	}
	all = sum
	for _, v := range others {
		all, squares = all+v, squares+v*v
	}
	drop := func(v float64) { all, squares = all-v, squares-v*v }
	for {
		n := float64(len(y) + len(others))
		if n < 3 {
			return sum, len(y), len(others)
		}
		mean := all / n
		limit := byScatter * math.Sqrt(max(squares-n*mean*mean, 0)/(n-1))
		kept := y[:0]
		for _, v := range y {
			if math.Abs(v-mean) <= limit {
				kept = append(kept, v)
				continue
			}
			drop(v)
			sum -= v
		}
		y = kept
		for len(others) > 0 && others[0] < mean-limit {
			drop(others[0])
			others = others[1:]
		}
		for len(others) > 0 && others[len(others)-1] > mean+limit {
			drop(others[len(others)-1])
			others = others[:len(others)-1]
		}
		if float64(len(y)+len(others)) == n {
			return sum, len(y), len(others)
		}
	}
}

// draw is chance: normal deviates of a defect's values, those of other hot pixels that
// meet it, and those of the others', which ascend.
type draw struct {
	chance float64 // its weight among all draws
	hit
	hot    []hit
	others []float64
}

// hit is a hot pixel in some subs, and the normal deviates of its values.
type hit struct {
	class  int // of its defect; none for the one that is looked at
	shared float64
	own    []float64 // one a sub
}

// share of the pixel that a defect of the class is counted for: none where a hotter one meets it.
func (w draw) share(class int) float64 {
	alike := 1.0
	for _, o := range w.hot {
		if o.class > class {
			return 0
		}
		if o.class == class {
			alike++
		}
	}
	return 1 / alike
}

// drawsOf n subs is how many times chance is drawn in each of so many turns. A class of hot
// pixels is tried on one turn, or on as large a part of all as it is of the hot pixels; its
// neighbours, which are nearly alike, have others. Of a hundred subs fewer turns do, of
// thousands fewer draws, and take less room: what one brings hardly matters there.
func drawsOf(n int) (each, turns int) {
	return min(max((1<<16)/n, 16), 256), min(max((1<<9)/n, 4), 16)
}

// chances keeps what was drawn, by all subs, those that meet and those that others meet in.
type chances map[[3]int][][]draw

func (c chances) of(n, subs, together int, hotter []float64) [][]draw {
	key := [3]int{n, subs, together}
	if _, ok := c[key]; !ok {
		c[key] = drawn(n, subs, together, hotter)
	}
	return c[key]
}

// drawn is the same chance for all defects of a class that fall on so many of n subs, so
// that more darks cannot seem worse by luck. The other subs meet
// `together` at a time on pixels of the sensor, of which a share hotter[k] is as hot as
// class k or hotter.
func drawn(n, subs, together int, hotter []float64) [][]draw {
	r := rand.New(rand.NewPCG(uint64(n), uint64(subs)))
	beside := (n - subs + together - 1) / together
	cases := meetings(beside, hotter[0])
	each, turns := drawsOf(n)
	draws := make([][]draw, turns)
	each = each / len(cases) * turns // of a case, in all turns
	for _, m := range cases {
		hot, all := make([]int, each), 0
		for k := range hot {
			hot[k] = m.hot((float64(k) + 0.5) / float64(each))
			all += hot[k]
		}
		ranks := r.Perm(all) // every class comes as often as it should
		for k, count := range hot {
			w := draw{chance: m.chance / float64(each), hit: evenly(r, k, each, subs)}
			rest := n - subs
			for _, pixel := range r.Perm(beside)[:count] {
				rank := float64(ranks[0]) + 0.5
				ranks = ranks[1:]
				class := sort.Search(len(hotter), func(j int) bool { return hotter[j]/hotter[0]*float64(all) <= rank }) - 1
				some := min(together, n-subs-pixel*together)
				w.hot = append(w.hot, hit{class, r.NormFloat64(), normals(r, some)})
				rest -= some
			}
			w.others = normals(r, rest)
			slices.Sort(w.others)
			draws[k%turns] = append(draws[k%turns], w)
		}
	}
	return draws
}

func normals(r *rand.Rand, n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = r.NormFloat64()
	}
	return v
}

// evenly is the k-th of all hits of one defect in so many subs: its first value and what its
// values share are spread evenly, one against the other by the golden section.
func evenly(r *rand.Rand, k, all, subs int) hit {
	h := hit{own: normals(r, subs)}
	_, turn := math.Modf(float64(k) * math.Phi)
	unit := distuv.UnitNormal
	h.own[0] = unit.Quantile((float64(k) + 0.5) / float64(all))
	h.shared = unit.Quantile(min(max(turn, 0.5/float64(all)), 1-0.5/float64(all)))
	return h
}

// met is how many hot pixels meet a defect, and the chance of it.
type met struct {
	chance float64
	hot    func(quantile float64) int
}

// Where hot pixels are rare, only those that meet stay after rejection by deviation, and
// chance hardly ever draws a pair, let alone three: the few that it drew told the number to
// a factor of two and more. So no other, one and two are drawn as often each as all larger
// numbers together, and weighed by their chance.
const metApart = 3

// neverMet is the chance from which on a meeting is left out: of the hot pixels of a
// hundred million, one in a hundred, it makes a thousandth of one.
const neverMet = 1e-9

// meetings with pixels of which a share is hot, those that never come left out.
func meetings(pixels int, share float64) []met {
	if pixels == 0 || share <= 0 {
		return []met{{1, func(float64) int { return 0 }}}
	}
	b := distuv.Binomial{N: float64(pixels), P: share}
	var cases []met
	for k := range min(metApart, pixels+1) {
		if p := b.Prob(float64(k)); p > neverMet {
			cases = append(cases, met{p, func(float64) int { return k }})
		}
	}
	fewer := b.CDF(metApart - 1)
	if pixels < metApart || 1-fewer <= neverMet {
		return cases
	}
	return append(cases, met{1 - fewer, func(quantile float64) int {
		upTo := fewer + quantile*(1-fewer)
		return metApart + sort.Search(pixels-metApart, func(j int) bool { return b.CDF(float64(metApart+j)) >= upTo })
	}})
}

// beyond is the chance that a normal value lies further than limit from zero.
func beyond(limit, mean, sd float64) float64 {
	n := distuv.UnitNormal
	return n.Survival((limit-mean)/sd) + n.Survival((limit+mean)/sd)
}
