package worth

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// Master tells what bias frames or flats do to the stack of one group of
// subs, by their number.
type Master struct {
	Label       string       // of the subs
	Kind        string       // "bias" or "flat"
	Verdict     Sufficiency  // "" with Lacks
	Lacks       fact.Fact    // what is lacking for a verdict
	Have        int          // frames that fit the subs
	Darks       int          // bias: those that stand in for it; 0 when it is needed
	Suffices    int          // the fewest frames weighed that add at most EnoughPct; 0 when none does
	SufficesPct float64      // what those add, %
	HavePct     stats.Value  // what those at hand add to the stack's noise, %
	MostPct     float64      // what the largest master weighed adds, %
	Most        int          // its frames
	WithoutPct  float64      // what is added when nothing is corrected, %
	Corner      stats.Value  // flats: light lost in the corners, %
	Lifted      stats.Value  // flats: by how much they brighten the corners, for they divide the dark current too, % of the sky
	Season      int          // subs weighed with, earlier nights' counted in
	Cases       []MasterCase // the first has no frames at all
}

// Lifts tells that flats brighten the corners.
func (w *Master) Lifts() bool { return w.Lifted.OK() && w.Lifted.V > 0 }

// Sufficiency is the verdict on a master.
type Sufficiency string

// The verdicts there are.
const (
	Enough        Sufficiency = "enough"
	MoreWouldHelp Sufficiency = "more would help"
	NotNeeded     Sufficiency = "not needed"
)

// MasterCase is the finished stack with a master of N frames, e- per pixel of
// one average sub's scale.
type MasterCase struct {
	N           int // 0: none
	Dithered    bool
	Added       float64 // e-, noise that the master (or, without one, the uncorrected pattern) adds
	Stack       float64 // e-, noise of the stack without it
	IncreasePct float64 // by how much the stack's noise grows
}

// EnoughPct is what a master may add to the stack's noise and be called enough.
const EnoughPct = 2

// stackNoise is the white noise of the stack of n subs, e-.
func (in Input) stackNoise(n int) float64 {
	s := in.lightAndReadOut()
	v := s.sky*in.Exposure + s.read*s.read + max(in.DarkRate.Or(0), 0)*in.Exposure
	return math.Sqrt(v / float64(n))
}

// weighMaster fills the cases: added(n) is the noise that a master of n frames
// adds to every sub alike, and have how many there are.
func (in Input) weighMaster(w *Master, have int, counts []int, added func(n int) float64) {
	w.Have, w.Season = have, in.planned()
	stack := in.stackNoise(w.Season)
	l, _ := in.layout(w.Season)
	increase := func(n int, l layout) MasterCase {
		a := added(n) * math.Sqrt(l.share)
		return MasterCase{n, l.share < 0.5, a, stack, 100 * (math.Hypot(a, stack)/stack - 1)}
	}
	moved := l
	if l.share > 0.5 {
		moved = scattered(l.n)
	}
	for _, l := range []layout{still(l.n), moved} {
		for _, n := range append([]int{0}, counts...) {
			w.Cases = append(w.Cases, increase(n, l))
		}
	}
	w.Most = counts[len(counts)-1]
	w.MostPct, w.WithoutPct = increase(w.Most, l).IncreasePct, increase(0, l).IncreasePct
	for i := len(counts) - 1; i >= 0 && increase(counts[i], l).IncreasePct <= EnoughPct; i-- {
		w.Suffices, w.SufficesPct = counts[i], increase(counts[i], l).IncreasePct
	}
	w.HavePct = stats.Missing(NoneThere)
	w.Verdict = MoreWouldHelp
	if have > 0 {
		w.HavePct = stats.Known(increase(have, l).IncreasePct, math.NaN(), have)
		if w.HavePct.V <= EnoughPct {
			w.Verdict = Enough
		}
	}
}

// unweighed is a master of which nothing is known.
func unweighed(label, kind string) Master {
	nan := math.NaN()
	return Master{Label: label, Kind: kind, HavePct: stats.Missing(NotWeighed), SufficesPct: nan, MostPct: nan, WithoutPct: nan,
		Corner: stats.Missing(FlatsTellIt), Lifted: stats.Missing(FlatsTellIt)}
}

// OfBias tells what a master bias of so many frames adds to the stack, beside or in place
// of the darks that were weighed.
func OfBias(in Input, darks Answer) Master {
	w := unweighed(in.Label, "bias")
	if w.Lacks = in.lacking(); w.Lacks.Code != "" {
		return w
	}
	s := in.lightAndReadOut()
	in.weighMaster(&w, in.biases(), sensor.MasterCounts, func(n int) float64 {
		if n == 0 {
			return s.offset
		}
		return s.read / math.Sqrt(float64(n))
	})
	if n := in.darks(); n > 0 && in.DarkFits && !darks.Harm() { // to scale darks takes bias frames
		w.Verdict, w.Darks = NotNeeded, n
	}
	return w
}

// flatCounts are the numbers of flats weighed.
var flatCounts = []int{5, 10, 20, 50, 100}

// flatLevel is the share of the range that flats are taken to be lit to where there are
// none (common practice, no source).
const flatLevel = 0.5

// OfFlats tells whether the flats are enough for the subs' signal: a master
// flat's noise is a fixed share of the sky's light in every sub, and without
// flats the pixels' unequal response is.
func OfFlats(in Input) Master {
	w := unweighed(in.Label, "flat")
	w.Corner, w.Lifted = stats.Missing(NoFlats), stats.Missing(NotWeighed)
	if in.Found != nil {
		w.Lifted = in.Found.Lifted
	}
	if w.Lacks = in.lacking(); w.Lacks.Code != "" {
		return w
	}
	signal := max(in.SkyRate.V, 0) * in.Exposure
	have := framesOf(in.Flat)
	snr, uneven := stats.Missing(NoFlats), usualUneven
	if have > 0 {
		snr = in.Flat.Flat.SNR.Scaled(1 / math.Sqrt(float64(have)))
		uneven = in.Flat.Flat.Response.Value.Or(0) / 100
		w.Corner = in.Flat.Flat.CornerFalloff.Value
	} else if full := in.lightAndReadOut().full; !math.IsInf(full, 1) {
		snr = stats.Known(math.Sqrt(flatLevel*full), math.NaN(), 0)
	}
	if !snr.OK() {
		w.Lacks = fact.Of(NoFlats)
		if have > 0 {
			w.Lacks = because(NoFlatNoise, snr)
		}
		return w
	}
	in.weighMaster(&w, have, flatCounts, func(n int) float64 {
		if n == 0 {
			return signal * uneven
		}
		return signal / snr.V / math.Sqrt(float64(n))
	})
	return w
}
