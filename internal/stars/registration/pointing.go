package registration

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// pointing is where one sub's centre falls in the reference.
type pointing struct {
	index             int
	hours, x, y, turn float64 // hours since the first, 0 when the time is unknown
	timed, flipped    bool
	dithered          bool // it begins a rest
}

// cameraTurned is a turn, degrees, between two subs that the sky does not make:
// on an alt-azimuth mount 15°/h and more, but in minutes.
const cameraTurned = 5

// stretchesOf sorts matched subs by time and cuts at flips, turns and long gaps. Those
// without a time, a stretch a side of the pier, stand in where hardly any has one: what
// lies between them they do not tell.
func stretchesOf(al []Alignment, times []time.Time) [][]pointing {
	var all []pointing
	var loose [2][]pointing // without a time, by side of the pier
	var first time.Time
	for i := range al {
		if !al[i].Matched() {
			continue
		}
		p := pointing{index: i, x: al[i].ShiftX.V, y: al[i].ShiftY.V, turn: al[i].RotationDeg.V, timed: !times[i].IsZero(), flipped: al[i].Flipped}
		if p.timed {
			if first.IsZero() {
				first = times[i]
			}
			p.hours = times[i].Sub(first).Hours()
		}
		if p.flipped { // back into the reference's orientation
			p.x, p.y = -p.x, -p.y
		}
		switch {
		case p.timed:
			all = append(all, p)
		case p.flipped:
			loose[1] = append(loose[1], p)
		default:
			loose[0] = append(loose[0], p)
		}
	}
	slices.SortStableFunc(all, func(a, b pointing) int { return cmp.Compare(a.hours, b.hours) })
	var out [][]pointing
	for i, p := range all {
		if i == 0 || p.flipped != all[i-1].flipped || p.hours-all[i-1].hours > 1 || math.Abs(math.Remainder(p.turn-all[i-1].turn, 360)) > cameraTurned {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], p)
	}
	for _, st := range loose {
		if len(st) > 0 && len(all) < 3 {
			out = append(out, st)
		}
	}
	return out
}
