package subs

import "math"

// Dew takes light steadily and little by little, sub after sub, until a heater
// or a cloth takes it off at once; the sky it scatters rather than hides stays as
// bright. Cloud comes and goes, and lights up or hides the sky. (Common
// practice, no source.)
const (
	dewFewest   = 6    // subs in the fall
	dewStart    = 0.9  // transparency that it begins from
	dewNoise    = 0.02 // by which a transparency may rise in between
	dewSteepest = 0.35 // of the whole fall, the most that one sub brings
	dewSky      = 1.1  // times the baseline, the sky during it
	dewRecovery = 0.5  // of the fall, regained at once where it ends before the night does
)

// dewing tells whether the sub lies in such a fall, among the subs of its group
// and session.
func (e *evidence) dewing() bool {
	from, to := e.rank, e.rank
	for from > 0 && e.mates[from-1].transparency > e.mates[from].transparency-dewNoise {
		from--
	}
	for from < to && !(e.mates[from].transparency > e.mates[from+1].transparency+dewNoise/2) {
		from++ // the level stretch before the fall
	}
	for to+1 < len(e.mates) && e.mates[to+1].transparency < e.mates[to].transparency+dewNoise {
		to++
	}
	fall := e.mates[from : to+1]
	if len(fall) < dewFewest || !(fall[0].transparency > dewStart) || !e.endsAtOnce(from, to) {
		return false
	}
	whole := math.Log(fall[0].transparency / fall[len(fall)-1].transparency)
	for i, o := range fall {
		if !(o.sky < dewSky) || i > 0 && math.Log(fall[i-1].transparency/o.transparency) > dewSteepest*whole {
			return false
		}
	}
	return true
}

// endsAtOnce tells whether a fall lasts until the session ends, or is over from
// one sub to the next.
func (e *evidence) endsAtOnce(from, to int) bool {
	if to+1 == len(e.mates) {
		return true
	}
	first, last, next := e.mates[from].transparency, e.mates[to].transparency, e.mates[to+1].transparency
	return next-last > dewRecovery*(first-last)
}
