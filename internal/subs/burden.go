package subs

import (
	"math"
	"sort"

	"fitsqa/internal/fact"
)

// What a sub's light is worth. Stacks scale their subs to one transparency
// before they average them. A sub with transparency T and noise n then has the
// noise variance v = (n/T)², and k subs have together the noise √Σv / k. One
// more lowers it while its own v < (2 + 1/k) times that of each of the others:
// (√(Σv+v)/(k+1))² < Σv/k². What an average bears is twice that of each, and a sub's
// burden its v over it: the 1/k, which would make the limit go with how many of a
// night's subs are there, is within the margin of the limits from three on.
//
// The average that is asked holds the fewest subs that do as well as the best ones
// would, with their mean depth 1/v: the heavy at its margin, which come and go
// with the limit itself, hardly count, and the limit stays what it is whichever of a
// night's subs are there. It also is right where a night is of two kinds and not of one odd sub:
// where the f of all that are dark are worth as much as all are, with the others' v r times
// theirs, f = 1/(r-1), a burden of 1 is what these have.

// depthOf is what a sub adds to a stack of its exposure, (T/n)², ADU^-2: the mean
// over the field where that is known, so that light and noise are those of the
// same pixels; NaN when unknown.
func depthOf(s *Sub) float64 {
	if d := s.Transparency.Depth.V; d > 0 {
		return d
	}
	r := s.Transparency.Ratio.V / s.RandomNoise.V
	return r * r
}

// asWell is the share of the best average's signal to noise that does as well: what no
// picture shows.
const asWell = 0.97

// bearable is the scaled variance that an average of subs of these bears; NaN for none.
func bearable(variances []float64) float64 {
	var all, worth []float64
	for _, v := range variances {
		if v > 0 && !math.IsInf(v, 0) {
			all = append(all, v)
		}
	}
	sort.Float64s(all)
	sum, best, depth := 0.0, 0.0, 0.0
	for i, v := range all {
		sum += v
		worth = append(worth, float64(i+1)/math.Sqrt(sum))
		best = math.Max(best, worth[i])
	}
	for i, v := range all {
		depth += 1 / v
		if k := float64(i + 1); worth[i] >= asWell*best {
			return 2 * k / depth
		}
	}
	return math.NaN()
}

// bears is what the average of a group bears, as it is and with the extinction at
// each sub's airmass allowed for: a target that sets is no worse for it than the sky
// makes it.
func bears(subs []*Sub, airmass float64) (asIs, allowed float64) {
	var v, least []float64
	for _, s := range subs {
		if s.Transparency.Ratio.OK() {
			v = append(v, 1/depthOf(s))
			least = append(least, square(extinction(s, airmass))/depthOf(s))
		}
	}
	return bearable(v), bearable(least)
}

// burdenOf is the sub's burden as far as it is sure: the smaller of those with and
// without what the air is allowed to take. Where the air took less than that, and be
// it that site or time are not what the headers say, subs high in the sky are no
// burden because low ones are better than they could be.
func (e *evidence) burdenOf() float64 {
	sure := e.sureTransparency() / e.transparency // of a covered field the lit part counts as the whole
	v := (1 - e.covered) / depthOf(e.Sub) / (sure * sure)
	return math.Min(v/e.base.BearsAsIs, square(extinction(e.Sub, e.base.Airmass))*v/e.base.Bears)
}

// sureTransparency is what the weather left, and two standard errors more.
func (e *evidence) sureTransparency() float64 {
	return e.transparency + 2*e.Transparency.Ratio.KnownErr()
}

// gradeBurden holds the burden against its limits. It grows without bound as
// the light goes, so that the severity goes by its logarithm.
func (e *evidence) gradeBurden() (Verdict, float64) {
	burden, doubtful, cull := math.Log(e.burden), math.Log(e.lim.BurdenDoubtful), math.Log(e.lim.BurdenCull)
	verdict, _ := grade(burden, doubtful, cull)
	if verdict == Keep {
		return Keep, 0
	}
	_, severity := grade(burden, math.Min(doubtful, cull-burdenGrade), cull)
	return verdict, severity
}

// burdenGrade is the least that the severity takes for a grade, in ln(burden): the two
// limits may be one.
const burdenGrade = 0.3

// burdenFact is the burden where it is what a verdict rests on.
func (e *evidence) burdenFact(v Verdict) fact.Fact {
	return fact.Of(Burden, fact.Number("burden", e.burden), fact.Number("limit", crossed(v, e.lim.BurdenDoubtful, e.lim.BurdenCull)))
}

// lossLeads tells whether lost light, rather than added, makes the burden. What
// a cloud adds is the cloud's.
func (e *evidence) lossLeads() bool {
	loss := -2 * math.Log(e.sureTransparency())
	added := 2 * math.Log(e.RandomNoise.V/e.base.RandomNoise)
	return e.sureTransparency() < lossShows && (!(loss < added) || e.unexplainedSky())
}

// lossShows is the transparency from which on a loss is more than what the zero
// points of clear subs scatter by.
const lossShows = 0.93

// skyLeads tells whether a brighter sky is there to explain noise: by much, or by as
// much as the noise grew. Of a sky s times as bright it is √s times as large at most.
func (e *evidence) skyLeads() bool {
	if math.IsNaN(e.sky) || e.sky > skyShows {
		return true
	}
	noise := e.RandomNoise.V / e.base.RandomNoise
	return e.sky > skyGrew && noise < noiseSure*math.Sqrt(e.sky)
}

// skyShows is the sky, times the baseline, from which on it is brighter.
const skyShows = 1.25

// skyGrew is the sky from which on it is brighter at all, noiseSure what noise is
// known to.
const skyGrew, noiseSure = 1.05, 1.05
