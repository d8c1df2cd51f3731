package registration

import (
	"math"

	"fitsqa/internal/stats"
)

// step is how the pointing went from one sub to the next, px; hours is 0 where a time is unknown.
type step struct{ x, y, hours float64 }

func stepBetween(a, b pointing) step {
	s := step{x: b.x - a.x, y: b.y - a.y}
	if a.timed && b.timed {
		s.hours = b.hours - a.hours
	}
	return s
}

// beyond is what a step holds beyond the drift that another shows, px.
func (s step) beyond(from step) (x, y float64) {
	share := 1.0
	if s.hours > 0 && from.hours > 0 {
		share = s.hours / from.hours
	}
	return s.x - share*from.x, s.y - share*from.y
}

func (s step) off(from step) float64 { return math.Hypot(s.beyond(from)) }

const (
	// fewestSteps tell two kinds of steps apart, and fewestDithers of them are no jumps.
	fewestSteps, fewestDithers = 8, 3
	// leastDithered is the share of steps with a dither, where not all have one: more
	// seldom they are jumps.
	leastDithered = 0.1
	// alikeShare of the steps lie closest to one of them. Steps of one kind with two normal
	// coordinates leave 0.845 sigma (a Rayleigh distribution), and but 1 in 3500 lies beyond
	// beyondAlike times that: so is told whether there is another kind, in a night dithered
	// every second sub and with a third of the times missing too.
	alikeShare, beyondAlike = 0.3, 4.8
	// oneWay is the share of their lengths that steps come to which all lead one way; of
	// three in any direction one in ten come to it.
	oneWay = 0.9
	// longPause, in usual steps, may hide a dither.
	longPause = 3
	// mostCandidates bounds the work over thousands of subs.
	mostCandidates = 100
)

// markDithers marks the subs that begin a rest: the pointing was dithered before them.
// Where not every sub is dithered, the steps without a dither are alike (drift and error
// of guiding), and those with one lie far from them. Where steps are all of one kind, each sub is a rest.
func markDithers(stretches [][]pointing) {
	var steps []step
	for _, st := range stretches {
		for i := range st {
			st[i].dithered = true
			if i > 0 {
				steps = append(steps, stepBetween(st[i-1], st[i]))
			}
		}
	}
	if len(steps) < fewestSteps {
		return
	}
	usual, radius := commonest(steps)
	if !ditheredBetween(steps, usual, beyondAlike*radius) {
		return
	}
	for _, st := range stretches {
		for i := 1; i < len(st); i++ {
			s := stepBetween(st[i-1], st[i])
			st[i].dithered = s.off(usual) > beyondAlike*radius || s.hours > longPause*usual.hours
		}
	}
}

// ditheredBetween tells whether steps farther off the usual one are dithers: enough of
// them, and not all one way. In a night that nods between two places half of the steps
// are alike, and what is far from them leads straight back.
func ditheredBetween(steps []step, usual step, limit float64) bool {
	var far int
	var x, y, long float64
	for _, s := range steps {
		if off := s.off(usual); off > limit {
			far++
			dx, dy := s.beyond(usual)
			x, y, long = x+dx, y+dy, long+off
		}
	}
	return far >= fewestDithers && float64(far) >= leastDithered*float64(len(steps)) && math.Hypot(x, y) < oneWay*long
}

// commonest is the step that alikeShare of all lie closest about, and their radius.
func commonest(steps []step) (usual step, radius float64) {
	radius = math.Inf(1)
	offs := make([]float64, len(steps))
	for k := 0; k < len(steps); k += 1 + len(steps)/mostCandidates {
		for i, s := range steps {
			offs[i] = s.off(steps[k])
		}
		if r := stats.SelectKth(offs, int(alikeShare*float64(len(steps)))); r < radius {
			usual, radius = steps[k], r
		}
	}
	return usual, radius
}

func restsOf(st []pointing) []pointing {
	var out []pointing
	for from := 0; from < len(st); {
		to := restEnd(st, from)
		out, from = append(out, meanOf(st[from:to])), to
	}
	return out
}

// restEnd is where the rest that begins at from is over.
func restEnd(st []pointing, from int) int {
	to := from + 1
	for to < len(st) && !st[to].dithered {
		to++
	}
	return to
}

func meanOf(rest []pointing) pointing {
	mean, share := pointing{timed: rest[0].timed}, 1/float64(len(rest))
	for _, p := range rest {
		mean.x, mean.y, mean.hours = mean.x+p.x*share, mean.y+p.y*share, mean.hours+p.hours*share
	}
	return mean
}
