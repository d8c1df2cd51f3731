package ahead

import (
	"math"
	"slices"
)

// Costs of a change, in slots: pointing, centring, focus and guiding take a
// quarter of an hour, a filter a few minutes with its focus; and short stretches
// are a nuisance (common practice, no source).
const (
	targetCost = 3
	filterCost = 1.5
)

// idle is no option at all: the slot stays free.
const idle = -1

// choose gives each slot to an option so that the sum of gains, less the costs
// of changes, is greatest, and no option gets much more than it wants. An option
// that got too much is made dearer, one that got too little cheaper, in ever
// smaller steps, until it fits (a Lagrangian relaxation of the limits).
func choose(options []option, slots []slot) []int {
	wants := wanted(options, slots)
	price := make([]float64, len(options))
	var most []int
	mostWorth := math.Inf(-1)
	for step := 0.3; step > 0.005; step *= 0.93 {
		chosen := best(options, slots, price)
		got := make([]float64, len(options))
		for s, o := range chosen {
			if o != idle {
				got[o] += slots[s].levels[o].speed
			}
		}
		for i := range options {
			if wants[i] > 0 {
				price[i] = math.Max(0, price[i]+step*math.Max(-1, math.Min(1, got[i]/wants[i]-1)))
			}
		}
		if chosen = offer(options, wants, slots, trim(wants, slots, chosen)); worth(options, slots, chosen) > mostWorth {
			most, mostWorth = chosen, worth(options, slots, chosen)
		}
	}
	return most
}

func worth(options []option, slots []slot, chosen []int) float64 {
	free := make([]float64, len(options))
	sum, last := 0.0, -1
	for s, o := range chosen {
		if o == idle {
			o = len(options)
		}
		if s > 0 {
			sum -= change(options, last, o)
		}
		sum += gain(options, slots[s], free, o)
		last = o
	}
	return sum
}

// wanted is how much each option may get of a night, in slots at full speed: what
// its goal takes, and without one an equal share of what the night gives its target.
func wanted(options []option, slots []slot) []float64 {
	wants := make([]float64, len(options))
	for i, o := range options {
		wants[i] = o.wants
		if !math.IsInf(o.wants, 1) {
			continue
		}
		others := 0
		for _, other := range options {
			if other.target == o.target && math.IsInf(other.wants, 1) {
				others++
			}
		}
		night := 0.0
		for _, s := range slots {
			if l := s.levels[i]; l.bears() {
				night += l.speed
			}
		}
		wants[i] = night / float64(others)
	}
	return wants
}

// best is the cheapest path through the slots (dynamic programming): to stay
// with an option costs nothing, to change costs time.
func best(options []option, slots []slot, price []float64) []int {
	n := len(options)
	score := make([]float64, n+1) // the last is idle
	from := make([][]int, len(slots))
	for s := range slots {
		next := make([]float64, n+1)
		from[s] = make([]int, n+1)
		for to := range n + 1 {
			at := 0
			for before := range n + 1 {
				if score[before]-change(options, before, to) > score[at]-change(options, at, to) {
					at = before
				}
			}
			next[to] = score[at] - change(options, at, to) + gain(options, slots[s], price, to) + lean(to, n, s, len(slots))
			from[s][to] = at
		}
		score = next
	}
	at := 0
	for i := range score {
		if score[i] > score[at] {
			at = i
		}
	}
	chosen := make([]int, len(slots))
	for s := len(slots) - 1; s >= 0; s-- {
		chosen[s] = at
		if at == n {
			chosen[s] = idle
		}
		at = from[s][at]
	}
	return chosen
}

func change(options []option, from, to int) float64 {
	switch n := len(options); {
	case from == to:
		return 0
	case from == n || to == n:
		return targetCost / 2.0 // a pause is no way to change for nothing
	case options[from].target != options[to].target:
		return targetCost
	}
	return filterCost
}

// lean makes options that gain alike prefer different ends of the night, so that
// they share it in two stretches and not by chance.
func lean(i, options, s, slots int) float64 {
	if i == options {
		return 0
	}
	const most = 0.6
	order := float64(i)/float64(max(1, options-1)) - 0.5
	return most * order * (float64(s)/float64(slots) - 0.5)
}

const never = -1e9

func gain(options []option, s slot, price []float64, i int) float64 {
	if i == len(options) {
		return 0
	}
	l := s.levels[i]
	if !l.bears() {
		return never
	}
	return l.speed/options[i].mean - price[i]
}

// trim frees the last slots of an option that has all it wants, by more than one.
func trim(wants []float64, slots []slot, chosen []int) []int {
	left := slices.Clone(wants)
	for s, o := range chosen {
		if o == idle {
			continue
		}
		if left[o] <= -1 {
			chosen[s] = idle
			continue
		}
		left[o] -= slots[s].levels[o].speed
	}
	return chosen
}

// offer gives stretches that stayed free to what lacks time, each to what gains most there:
// prices swing a whole night from one option to another, and trim leaves the rest of it free.
func offer(options []option, wants []float64, slots []slot, chosen []int) []int {
	for range options {
		left := lacking(wants, slots, chosen)
		for s := 0; s < len(chosen); {
			e := s
			for e < len(chosen) && chosen[e] == chosen[s] {
				e++
			}
			if chosen[s] == idle {
				take(options, left, slots, chosen, s, e)
			}
			s = e
		}
		chosen = trim(wants, slots, chosen)
	}
	return chosen
}

// take gives the free slots from s to e to the option that gains most there of those that
// lack more than one at full speed, if that is worth the change.
func take(options []option, left []float64, slots []slot, chosen []int, s, e int) {
	most, mostGain := idle, float64(targetCost)
	for o := range options {
		sum := 0.0
		for _, slot := range slots[s:e] {
			if l := slot.levels[o]; l.bears() {
				sum += l.speed / options[o].mean
			}
		}
		if left[o] > 1 && sum > mostGain {
			most, mostGain = o, sum
		}
	}
	if most == idle {
		return
	}
	for i := s; i < e; i++ {
		if slots[i].levels[most].bears() {
			chosen[i] = most
		}
	}
	left[most] = 0 // until it is counted anew
}

// lacking is what each option still lacks, in slots at full speed.
func lacking(wants []float64, slots []slot, chosen []int) []float64 {
	left := slices.Clone(wants)
	for s, o := range chosen {
		if o != idle {
			left[o] -= slots[s].levels[o].speed
		}
	}
	return left
}

// fill gives slots that an option without a goal was cut off from to it again, for its share
// of a night is no end: first to the one before the gap, else to the one after it.
func fill(options []option, slots []slot, chosen []int) []int {
	bears := func(s, o int) bool {
		return o != idle && math.IsInf(options[o].wants, 1) && slots[s].levels[o].bears()
	}
	for s := 1; s < len(chosen); s++ {
		if chosen[s] == idle && bears(s, chosen[s-1]) {
			chosen[s] = chosen[s-1]
		}
	}
	for s := len(chosen) - 2; s >= 0; s-- {
		if chosen[s] == idle && bears(s, chosen[s+1]) {
			chosen[s] = chosen[s+1]
		}
	}
	return chosen
}
