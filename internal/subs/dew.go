package subs

import (
	"math"
	"slices"
	"sort"

	"fitsqa/internal/fact"
)

// Dew takes light steadily and little by little, sub after sub, until a cloth takes it
// off at once or a heater much more quickly than it came; the sky it scatters rather than
// hides stays as bright. Cloud comes and goes, and lights up or hides the sky. What drops take
// from a star stands around it as a halo, unless they are so fine that the halo is
// wider than the field: halos tell dew that settles in a few steps from a cloud
// that does, and knows no filters: groups of a few subs each tell its course together.
// Ice in thin cloud makes them too: where no halos grow, or too few subs of the night
// were left to show a course, cloud is named beside dew. (Common practice, no source.)
const (
	dewFewest   = 6    // subs in the fall
	dewStart    = 0.9  // transparency that it begins from
	dewNoise    = 0.02 // by which a transparency may rise in between
	dewSteepest = 0.35 // of the whole fall, the most that one sub brings
	dewSky      = 1.1  // times the baseline, the sky during it
	dewRecovery = 0.5  // of the fall, regained at once or under a heater where it ends before the night does

	haloShows    = 0.03 // light in halos beyond the group's, over that in the stars, from which on they have grown
	haloFewest   = 4    // subs in a fall with halos
	haloSteepest = 0.7  // of the whole fall, the most that one sub brings with halos: a deck of cloud comes at once
	haloFilters  = 0.2  // by which halos differ from filter to filter

	heaterQuicker = 2 // times as quickly as it came, dew goes under a heater; thin cloud goes as it came
)

// dewing tells whether the sub lies in such a fall, or where it dries up, among the subs of
// its night whose transparency is known, whatever their filter and exposure.
func (e *evidence) dewing() bool {
	lit, at := e.course()
	if len(lit) == 0 { // nothing tells when it was, or what it shows
		return false
	}
	low := at
	for low > 0 && rises(lit[low-1], lit[low]) {
		low--
	}
	from, to := low, low
	for from > 0 && !rises(lit[from-1], lit[from]) {
		from--
	}
	for low == at && to+1 < len(lit) && !rises(lit[to], lit[to+1]) {
		to++
	}
	fall, after := afterLevel(lit[from:to+1]), lit[to+1:]
	fewest, steepest := dewFewest, dewSteepest
	if e.haloed() {
		fewest, steepest = haloFewest, haloSteepest
	}
	if e.patchy() && !e.halosWithin(fall[0], after) {
		return false
	}
	if len(fall) < fewest || !(fall[0].transparency > dewStart) || !driesUp(fall, after) {
		return false
	}
	whole := math.Log(fall[0].transparency / fall[len(fall)-1].transparency)
	lowest := fall[0]
	for i, o := range fall {
		if o.transparency < lowest.transparency {
			lowest = o
		}
		if !(o.skyLeft() < dewSky) || o.transparency > lowest.transparency+2*dewNoise+2*lightErr(lowest, o) || i > 0 && math.Log(fall[i-1].transparency/o.transparency) > steepest*whole {
			return false
		}
	}
	return true
}

// halosWithin tells whether any sub shows halos between the first of a fall and those after it.
func (e *evidence) halosWithin(first *evidence, after []*evidence) bool {
	for j := first.place; e.inSession(j) && (len(after) == 0 || j < after[0].place); j++ {
		if e.night[j].haloed() {
			return true
		}
	}
	return false
}

// course is the light of the sub's night, and which of it is its own: what is a little
// uneven by itself may lie in a fall of others that are not; none where cloud's light is
// on it.
func (e *evidence) course() (lit []*evidence, rank int) {
	switch {
	case len(e.lit) == 0 || e.skyLeft() > cloudSkyRise || !e.Transparency.Ratio.OK():
		return nil, 0
	case !e.patchy():
		return e.lit, e.litRank
	case e.unevenness > e.lim.UnevennessCull:
		return nil, 0
	}
	rank = sort.Search(len(e.lit), func(i int) bool { return e.lit[i].place > e.place })
	return slices.Insert(slices.Clone(e.lit), rank, e), rank
}

// afterLevel leaves the level stretch before a fall out, but for its last sub.
func afterLevel(run []*evidence) []*evidence {
	best, last := 0.0, 0
	for _, o := range run {
		best = math.Max(best, o.transparency)
	}
	for i, o := range run {
		if o.transparency > best-2*dewNoise {
			last = i
		}
	}
	return run[last:]
}

// rises tells whether the transparency goes up from one sub to the next beyond what
// it scatters by; where one is unknown it does.
func rises(a, b *evidence) bool {
	return !(b.transparency < a.transparency+dewNoise+2*lightErr(a, b))
}

// lightErr is the standard error of the difference of two subs' light; 0 where it is not known.
func lightErr(a, b *evidence) float64 {
	return math.Hypot(a.Transparency.Ratio.KnownErr(), b.Transparency.Ratio.KnownErr())
}

// driesUp tells whether a fall lasts until the session ends, or is over from one sub to the
// next, or steadily and much more quickly than it came, as under a heater.
func driesUp(fall, after []*evidence) bool {
	if len(after) == 0 {
		return true
	}
	first, last := fall[0].transparency, fall[len(fall)-1].transparency
	before := fall[len(fall)-1]
	within := max(1, int(dewRecovery*float64(len(fall))/heaterQuicker))
	for _, o := range after[:min(len(after), within)] {
		if !rises(before, o) {
			return false
		}
		if o.transparency-last > dewRecovery*(first-last) {
			return !fall[len(fall)-1].litBefore(o)
		}
		before = o
	}
	return false
}

// cloudTakes is by how much less of the sky is left, as a share, where a cloud goes that lit it:
// from one sub to the next the sky by itself changes by less, beyond what it scatters by.
const cloudTakes = 0.02

// litBefore tells whether the sky fell as the light came back with a later sub: a cloth takes no light of the sky.
func (e *evidence) litBefore(later *evidence) bool {
	return !e.skyByNoise && !later.skyByNoise && later.skyLeft()+2*later.base.SkyScatter < (1-cloudTakes)*e.skyLeft()
}

// halosGrow tells whether halos grew over the night's subs through any filter, from
// none to this one and on until the session ends or they are gone, at once or much more
// quickly than they came, under an even and unlit sky; and whether enough subs show a
// course that is no deck of cloud and none that passed.
func (e *evidence) halosGrow() (grow, course bool) {
	if len(e.night) == 0 || !e.haloed() || !e.unlit() {
		return false, false
	}
	run, before, _ := e.haloRun(-1)
	on, after, clouded := e.haloRun(1)
	if before == nil || clouded {
		return false, false
	}
	slices.Reverse(run)
	run = append(append(run, e), on...)
	turn, ok := turnOf(run)
	most := 0.0
	for _, o := range run[:turn+1] {
		most = math.Max(most, o.halo)
	}
	switch shrinking := len(run) - 1 - turn; {
	case !ok:
		return false, false
	case shrinking > 0:
		return turn+1 >= max(haloFewest, heaterQuicker*shrinking), false
	case after != nil && after.halo > (1-dewRecovery)*most:
		return false, false
	case len(run) < haloFewest:
		return after == nil, false
	}
	grown, steepest := math.Max(0, before.halo), 0.0
	for _, o := range run {
		if o.haloed() {
			steepest, grown = math.Max(steepest, o.halo-grown), o.halo
		}
	}
	course = steepest < haloSteepest*most
	return course, course
}

// haloRun are the subs with halos next to one, in one direction of time and as they follow
// there, and those that show none between while the light that halos took is not back; those of
// unknown halos and under a passing cloud are left out. And the first one
// without halos beyond them (nil: the session ends), and whether a cloud's light is on the
// last.
func (e *evidence) haloRun(step int) (run []*evidence, beyond *evidence, clouded bool) {
	near := e
	for j := e.place + step; j >= 0 && j < len(e.night) && e.night[j].Start.Sub(e.night[j-step].Start).Abs() <= sessionGap; j += step {
		o := e.night[j]
		if math.IsNaN(o.halo) {
			continue
		}
		if !o.haloed() && !(o.transparency < (near.transparency+1)/2) {
			return run, o, clouded
		}
		if clouded = !o.unlit(); !clouded {
			run, near = append(run, o), o
		}
	}
	return run, nil, clouded
}

// turnOf is the sub, among those with halos, after which they shrink, the last where they
// do not; false where they grow again. The light, which is measured better, may tell that it
// turned earlier, or that it did.
func turnOf(run []*evidence) (turn int, ok bool) {
	turn = len(run) - 1
	before := 0
	for i := 1; i < len(run); i++ {
		if !run[i].haloed() {
			continue
		}
		if turn < i && run[i].shrinksTo(run[before]) {
			return turn, false
		}
		if turn >= i && run[before].shrinksTo(run[i]) {
			turn = before
		}
		before = i
	}
	if at, last := deepest(run), len(run)-1; turn < last || rises(run[at], run[last]) {
		turn = min(turn, at)
	}
	return turn, true
}

// deepest is the sub that lets least light through; the last where none is known.
func deepest(run []*evidence) int {
	at, least := len(run)-1, math.Inf(1)
	for i, o := range run {
		if o.transparency < least {
			at, least = i, o.transparency
		}
	}
	return at
}

// halosShow is whether halos grow at all.
func (e *evidence) halosShow() bool {
	grow, _ := e.halosGrow()
	return grow
}

// orCloud is whether thin cloud would look like this dew.
func (e *evidence) orCloud() bool {
	if e.standing() {
		return false
	}
	if !e.haloed() {
		return true
	}
	_, course := e.halosGrow()
	return !course && !e.dewing()
}

// shrinksTo tells whether a later sub has surely smaller halos.
func (e *evidence) shrinksTo(later *evidence) bool {
	err := math.Sqrt(square(e.Field.Halo.Err) + square(later.Field.Halo.Err))
	return later.halo < e.halo*(1-haloFilters)-2*err
}

// unlit tells whether a sub's light is no passing cloud's and its sky as bright as ever, as far as
// these are known.
func (e *evidence) unlit() bool {
	return !(e.skyLeft() >= dewSky) && !e.patchy()
}

// haloed tells whether light surely stands around the stars that does not in the
// group's clear subs.
func (e *evidence) haloed() bool {
	return e.Field != nil && e.halo-2*e.Field.Halo.KnownErr() > haloShows
}

// ownStarlight is the sky, times the baseline, that is the stars' own: what they lost,
// spread over the field. Where the sky is told by its noise, the light's own noise; 0
// where the gain that tells it is not known.
func (e *evidence) ownStarlight() float64 {
	if !(e.transparency < 1) {
		return 0
	}
	var light float64
	for i := range e.Field.Stars {
		light += e.Field.Stars[i].Flux
	}
	light *= (1/e.transparency - 1) / float64(e.Field.Width*e.Field.Height)
	if !e.skyByNoise {
		return light / e.base.Sky
	}
	if share := light / e.ElectronsPerADU / (e.base.RandomNoise * e.base.RandomNoise); share > 0 {
		return share
	}
	return 0
}

// fallFacts tell a fall: whether it stands at its place, and what halos tell of it.
func (e *evidence) fallFacts() []fact.Fact {
	if e.standing() {
		return []fact.Fact{fact.Of(InPlace), e.fallFact()}
	}
	return []fact.Fact{e.fallFact()}
}

// fallFact tells a fall, and what halos tell of it.
func (e *evidence) fallFact() fact.Fact {
	switch sure := 2 * e.Field.Halo.KnownErr(); {
	case e.haloed():
		return fact.Of(FallingHaloed, fact.Number("halo_pct", 100*e.Field.Halo.V))
	case e.halo+sure < haloShows:
		return fact.Of(FallingUnhaloed)
	}
	return fact.Of(FallingSteadily)
}
