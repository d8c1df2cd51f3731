package subs

import (
	"fmt"
	"math"
)

// Star counts under which a field has no stars: noise alone passes a 5 sigma
// detection less than once a frame (tail 2.9e-7 of at most some million
// independent samples), so that a handful where dozens are normal is nothing.
const (
	strayDetections = 3
	dozens          = 12
)

// counts looks for missing stars that transparency, noise and star size do not
// explain: a cap, a cover, dew, a lost target.
func (e *evidence) counts() []finding {
	f := e.Field
	if f == nil {
		return nil
	}
	if f.Count == 0 || f.Count <= strayDetections && (e.base.Stars >= dozens || e.base.Clear == 0) {
		return e.noStars()
	}
	share := e.stars
	clouded := !e.Transparency.Ratio.OK() && (e.unexplainedSky() || e.cloudAround())
	if clouded { // the noise that would excuse missing stars is the cloud's own
		share = float64(f.Count) / e.base.Stars
	}
	verdict, severity := gradeLow(share, e.lim.StarsDoubtful, e.lim.StarsCull)
	if verdict == Keep {
		return e.lostField()
	}
	words := fmt.Sprintf("%d stars, %.2f of those to be expected; limit %g", f.Count, share, crossed(verdict, e.lim.StarsDoubtful, e.lim.StarsCull))
	few := finding{FewStars, verdict, severity, words}
	if len(f.Streaks) >= manyStreaks {
		return []finding{{Trailed, verdict, severity, fmt.Sprintf("%d stars and %d streaks: the stars are drawn out; limit %g of the stars", f.Count, len(f.Streaks), crossed(verdict, e.lim.StarsDoubtful, e.lim.StarsCull))}}
	}
	if clouded {
		// Too few are left even to compare them with the other subs'.
		few.words += ", too few for a transparency"
		return []finding{{Cloud, Cull, math.Max(severity, 2), few.words}, few}
	}
	return []finding{few}
}

// manyStreaks is more tracks than satellites leave in one sub: the stars
// themselves are tracks.
const manyStreaks = 8

func (e *evidence) noStars() []finding {
	f := e.Field
	none := finding{NoStars, Cull, certain / 2, "no stars"}
	if f.Count > 0 {
		none.words = fmt.Sprintf("no stars but %d stray detections", f.Count)
	}
	if e.base.Clear > 0 {
		none.words += fmt.Sprintf(", %s subs have %.0f", e.whose(), e.base.Stars)
	}
	before := func(c Cause, why string) []finding {
		return []finding{{c, Cull, none.severity + 1, none.words + ": " + why}, none}
	}
	switch {
	case len(f.Streaks) >= manyStreaks:
		return before(Trailed, fmt.Sprintf("%d streaks instead", len(f.Streaks)))
	case e.sky > cloudSkyRise && e.skyCause() == Twilight:
		return before(Twilight, fmt.Sprintf("the sky is %.1f times %s", e.sky, e.whose()))
	case e.unexplainedSky():
		return before(Cloud, fmt.Sprintf("the sky is %.2f times %s", e.sky, e.whose()))
	case e.sky < coverSky && !e.skyByNoise:
		none.words += fmt.Sprintf(", and the sky is %.2f times %s: cap or cover", e.sky, e.whose())
	case e.cloudAround():
		return before(Cloud, "between clouded subs")
	}
	return []finding{none}
}

// coverSky is the sky, times the baseline, under which something dark is in
// front of the telescope; cloud over a dark site takes less.
const coverSky = 0.5

// lostAtMost is the stars, times the baseline, that another field may have. More
// are no stars, and then it is the matching that failed.
const lostAtMost = 2.5

// lostField is a field full of stars that are not the target's.
func (e *evidence) lostField() []finding {
	n := float64(e.Field.Count)
	if e.Align.ShiftX.OK() || e.Transparency.Ratio.OK() || n < dozens || !(n < lostAtMost*e.base.Stars) || !e.othersTied() {
		return nil
	}
	return []finding{{FewStars, Cull, 2, fmt.Sprintf("none of its %d stars fits the target's field: pointing lost", e.Field.Count)}}
}

// othersTied tells whether most of the group's neighbours were tied to the
// reference field, so that the matching itself can be trusted.
func (e *evidence) othersTied() bool {
	tied, n := 0, 0
	for _, o := range e.mates {
		if o != e && o.Field != nil {
			n++
			if o.Align.ShiftX.OK() {
				tied++
			}
		}
	}
	return n > 0 && 4*tied >= 3*n
}

// noSharper is the FWHM, times the group's best quarter, that seeing does not reach.
const noSharper = 0.6

// hotPixelsMeasured tells whether most of a sub's stars are gone with its width: what
// was measured is then as likely hot pixels, and no sub is culled for that.
func (e *evidence) hotPixelsMeasured() bool {
	return e.fwhm < noSharper && !e.byHFD && (e.stars < e.lim.StarsDoubtful || !e.Transparency.Ratio.OK())
}
