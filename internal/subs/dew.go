package subs

import (
	"math"

	"fitsqa/internal/fact"
)

// Dew takes light steadily and little by little, sub after sub, until a heater
// or a cloth takes it off at once; the sky it scatters rather than hides stays as
// bright. Cloud comes and goes, and lights up or hides the sky. What drops take
// from a star stands around it as a halo, unless they are so fine that the halo is
// wider than the field: halos tell dew that settles in a few steps from a cloud
// that does. Ice in thin cloud makes them too: cirrus that thickens until the night
// ends is not told from dew, which the sentence says. (Common practice, no source.)
const (
	dewFewest   = 6    // subs in the fall
	dewStart    = 0.9  // transparency that it begins from
	dewNoise    = 0.02 // by which a transparency may rise in between
	dewSteepest = 0.35 // of the whole fall, the most that one sub brings
	dewSky      = 1.1  // times the baseline, the sky during it
	dewRecovery = 0.5  // of the fall, regained at once where it ends before the night does

	haloShows    = 0.03 // light in halos beyond the group's, over that in the stars, from which on they have grown
	haloFewest   = 4    // subs in a fall with halos
	haloSteepest = 0.7  // of the whole fall, the most that one sub brings with halos: a deck of cloud comes at once
)

// dewing tells whether the sub lies in such a fall, among the subs of its group and
// session whose transparency is known.
func (e *evidence) dewing() bool {
	from, to := e.litRank, e.litRank
	for from > 0 && !rises(e.lit[from-1], e.lit[from]) {
		from--
	}
	for from < to && !(e.lit[from].transparency > e.lit[from+1].transparency+dewNoise/2) {
		from++ // the level stretch before the fall
	}
	for to+1 < len(e.lit) && !rises(e.lit[to], e.lit[to+1]) {
		to++
	}
	fall := e.lit[from : to+1]
	fewest, steepest := dewFewest, dewSteepest
	if e.haloed() {
		fewest, steepest = haloFewest, haloSteepest
	}
	if len(fall) < fewest || !(fall[0].transparency > dewStart) || !e.endsAtOnce(from, to) {
		return false
	}
	whole := math.Log(fall[0].transparency / fall[len(fall)-1].transparency)
	lowest := 1.0
	for i, o := range fall {
		lowest = math.Min(lowest, o.transparency)
		if !(o.sky < dewSky) || o.transparency > lowest+2*dewNoise || i > 0 && math.Log(fall[i-1].transparency/o.transparency) > steepest*whole {
			return false
		}
	}
	return true
}

// rises tells whether the transparency goes up from one sub to the next beyond what
// it scatters by; where one is unknown it does.
func rises(a, b *evidence) bool {
	err := math.Sqrt(square(a.Transparency.Ratio.Err) + square(b.Transparency.Ratio.Err))
	return !(b.transparency < a.transparency+dewNoise+2*err)
}

// endsAtOnce tells whether a fall lasts until the session ends, or is over from
// one sub to the next.
func (e *evidence) endsAtOnce(from, to int) bool {
	if to+1 == len(e.lit) {
		return true
	}
	first, last, next := e.lit[from].transparency, e.lit[to].transparency, e.lit[to+1].transparency
	return next-last > dewRecovery*(first-last)
}

// haloed tells whether light surely stands around the stars that does not in the
// group's clear subs.
func (e *evidence) haloed() bool {
	return e.halo-2*math.Sqrt(square(e.Field.Halo.Err)) > haloShows
}

// fallFact tells a fall, and what halos tell of it.
func (e *evidence) fallFact() fact.Fact {
	switch sure := 2 * math.Sqrt(square(e.Field.Halo.Err)); {
	case e.haloed():
		return fact.Of(FallingHaloed, fact.Number("halo_pct", 100*e.Field.Halo.V))
	case e.halo+sure < haloShows:
		return fact.Of(FallingUnhaloed)
	}
	return fact.Of(FallingSteadily)
}
