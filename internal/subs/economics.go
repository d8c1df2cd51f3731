package subs

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Economics is signal to noise of the group's stack, for faint extended light,
// against how many of the worst subs are dropped; 1 is all subs in a plain
// average. The plain average takes subs as they are, the sky taken off. Noise
// is all that counts here: stretched or soft stars are not seen.
type Economics struct {
	Stacked          int       // subs that enter: readable, no duplicates, noise known
	Plain            []float64 // index: number dropped, worst (least weight) first; 0 to Stacked-1
	Weighted         []float64 // likewise, with the best weights
	BestDrop         int       // number to drop for the best plain average
	UserDrop         int       // number that the verdicts drop
	UserPlain        float64   // plain average of what the verdicts leave; NaN when they leave none
	UserWeighted     float64   // and with the best weights
	UserClearSeconds float64   // equivalent clear time that the verdicts drop, s
	Words            string
}

// entry is one sub's share in a stack.
type entry struct {
	sub           *Sub
	signal, noise float64
}

// snrPlain of a plain average: Σs / √Σn².
func snrPlain(in []entry) float64 {
	s, v := 0.0, 0.0
	for _, e := range in {
		s += e.signal
		v += e.noise * e.noise
	}
	return s / math.Sqrt(v)
}

// snrWeighted with weights s/n², the best: √Σ(s/n)².
func snrWeighted(in []entry) float64 {
	q := 0.0
	for _, e := range in {
		q += e.signal * e.signal / (e.noise * e.noise)
	}
	return math.Sqrt(q)
}

func economics(group []*Sub) Economics {
	var ec Economics
	all := entries(group)
	ec.Stacked = len(all)
	if len(all) == 0 || !(snrPlain(all) > 0) {
		ec.UserPlain, ec.UserWeighted = math.NaN(), math.NaN()
		ec.Words = "no sub whose signal and noise are both known: what cutting does to the stack cannot be told"
		return ec
	}
	unit := snrPlain(all)
	for k := range all {
		ec.Plain = append(ec.Plain, snrPlain(all[k:])/unit)
		ec.Weighted = append(ec.Weighted, snrWeighted(all[k:])/unit)
		if ec.Plain[k] > ec.Plain[ec.BestDrop]*(1+1e-12) {
			ec.BestDrop = k
		}
	}
	var left []entry
	for _, e := range all {
		if e.sub.Verdict.Usable() {
			left = append(left, e)
			continue
		}
		ec.UserDrop++
		if e.sub.Weight.OK() {
			ec.UserClearSeconds += e.sub.Exposure * e.sub.Weight.V
		}
	}
	ec.UserPlain, ec.UserWeighted = snrPlain(left)/unit, snrWeighted(left)/unit
	if len(left) == 0 {
		ec.UserPlain, ec.UserWeighted = math.NaN(), math.NaN()
	}
	ec.Words = ec.words(all)
	return ec
}

// entries are the subs that a stack can take, worst first. A sub whose stars
// are gone has no signal; one whose transparency is unknown for another reason
// is left out.
func entries(group []*Sub) []entry {
	var all []entry
	for _, s := range group {
		signal := s.Transparency.Ratio.V * s.Exposure
		if !s.Transparency.Ratio.OK() && lostStars(s) {
			signal = 0
		}
		if s.Field == nil || s.DuplicateOf != "" || !(s.RandomNoise.V > 0) || !(signal >= 0) {
			continue
		}
		all = append(all, entry{s, signal, s.RandomNoise.V})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].signal*all[j].noise < all[j].signal*all[i].noise })
	return all
}

func lostStars(s *Sub) bool {
	for _, c := range s.Causes {
		if c == NoStars || c == FewStars {
			return true
		}
	}
	return false
}

func (ec *Economics) words(all []entry) string {
	var w []string
	if ec.UserDrop == 0 {
		w = append(w, "nothing is culled")
	} else if math.IsNaN(ec.UserPlain) {
		w = append(w, "every sub is culled")
	} else {
		w = append(w, fmt.Sprintf("culling %d of %d changes the signal to noise of a plain average by %+.1f %% and of a weighted one by %+.1f %% (%.1f equivalent clear minutes)",
			ec.UserDrop, ec.Stacked, 100*(ec.UserPlain-1), 100*(ec.UserWeighted/ec.Weighted[0]-1), -ec.UserClearSeconds/60))
	}
	if ec.BestDrop > 0 {
		w = append(w, fmt.Sprintf("by noise alone the best plain average drops the worst %d (%+.1f %%)", ec.BestDrop, 100*(ec.Plain[ec.BestDrop]-1)))
	} else {
		w = append(w, "by noise alone a plain average is best with all")
	}
	w = append(w, fmt.Sprintf("weighting all gives %+.1f %%", 100*(ec.Weighted[0]-1)))
	if s := halfClear(all); s != nil {
		w = append(w, fmt.Sprintf("a sub at transparency %.2f still adds %.2f of a clear one to a weighted stack", s.Transparency.Ratio.V, s.Weight.V))
	}
	return strings.Join(w, "; ")
}

// halfClear is the culled or doubtful sub nearest to half transparency, to
// show what its like is worth; nil when none is between 0.3 and 0.7.
func halfClear(all []entry) *Sub {
	var best *Sub
	off := 0.2
	for _, e := range all {
		if d := math.Abs(e.sub.Transparency.Ratio.V - 0.5); e.sub.Verdict != Keep && e.sub.Weight.OK() && d <= off {
			best, off = e.sub, d
		}
	}
	return best
}
