package worth

import (
	"fmt"
	"math"

	"fitsqa/internal/calib"
	"fitsqa/internal/stats"
)

// Master tells what bias frames or flats do to the stack of one group of
// subs, by their number.
type Master struct {
	Label    string // of the subs
	Kind     string // "bias" or "flat"
	Verdict  string // "enough", "more would help", "not needed", or "" with Why
	Why      string
	Sentence string
	Cases    []MasterCase // the first has no frames at all
}

// MasterCase is the finished stack with a master of N frames, e- per pixel of
// one average sub's scale.
type MasterCase struct {
	N           int // 0: none
	Dithered    bool
	Added       float64 // e-, noise that the master (or, without one, the uncorrected pattern) adds
	Stack       float64 // e-, noise of the stack without it
	IncreasePct float64 // by how much the stack's noise grows
}

// enoughPct is what a master may add to the stack's noise and be called enough.
const enoughPct = 2

// stackNoise is the white noise of the stack, e-.
func (in Input) stackNoise() float64 {
	v := max(in.SkyRate.V, 0)*in.Exposure + in.ReadNoise.V*in.ReadNoise.V
	if in.DarkRate.OK() {
		v += max(in.DarkRate.V, 0) * in.Exposure
	}
	return math.Sqrt(v / float64(in.Subs))
}

// lacking says which of the figures that every master needs is lacking.
func (in Input) lacking() string {
	switch {
	case in.Subs < 1:
		return "no subs to stack"
	case !(in.Exposure > 0):
		return "the subs' exposure is not known"
	case !in.ReadNoise.OK():
		return "the read noise is not known in electrons: " + in.ReadNoise.Why
	case !in.SkyRate.OK():
		return "the sky is not known in electrons: " + in.SkyRate.Why
	}
	return ""
}

// weighMaster fills the cases: added(n) is the noise that a master of n frames
// adds to every sub alike; dither averages it as it does any fixed pattern.
func (in Input) weighMaster(w *Master, counts []int, added func(n int) float64) {
	stack := in.stackNoise()
	for _, dithered := range []bool{false, true} {
		thin := 1.0
		if dithered {
			thin = 1 / math.Sqrt(float64(in.Subs))
		}
		for _, n := range append([]int{0}, counts...) {
			a := added(n) * thin
			w.Cases = append(w.Cases, MasterCase{N: n, Dithered: dithered, Added: a, Stack: stack, IncreasePct: 100 * (math.Hypot(a, stack)/stack - 1)})
		}
	}
}

// fewest is the smallest number of frames that is enough, 0 when none is.
func (w *Master) fewest(dithered bool) int {
	for _, c := range w.Cases {
		if c.N > 0 && c.Dithered == dithered && c.IncreasePct <= enoughPct {
			return c.N
		}
	}
	return 0
}

// OfBias tells what a master bias of so many frames adds to the stack.
func OfBias(in Input) Master {
	w := Master{Label: in.Label, Kind: "bias"}
	if w.Why = in.lacking(); w.Why != "" {
		return w
	}
	have := framesOf(in.Bias)
	pattern := stats.Missing("no bias frames")
	if in.Bias != nil && in.Bias.Metric("read_noise_adu").V > 0 {
		pattern = in.Bias.Metric("fixed_pattern_adu").Scaled(in.ReadNoise.V / in.Bias.Metric("read_noise_adu").V)
	}
	counts := calib.MasterCounts
	in.weighMaster(&w, counts, func(n int) float64 {
		if n == 0 {
			return math.Max(0, valueOr(pattern, 0))
		}
		return in.ReadNoise.V / math.Sqrt(float64(n))
	})
	dithered := in.DitherPx >= ditherMoves
	need := w.fewest(dithered)
	switch {
	case in.DarkFits:
		w.Verdict = "not needed"
		w.Sentence = "the subs are corrected with darks, which hold the offset: bias frames serve the flats only"
		return w
	case have == 0:
		w.Verdict = "more would help"
		w.Sentence = fmt.Sprintf("no bias frames fit: %d would do", max(need, calib.MasterCounts[0]))
		return w
	}
	now := 100 * (math.Hypot(in.ReadNoise.V/math.Sqrt(float64(have))*w.thin(in, dithered), in.stackNoise())/in.stackNoise() - 1)
	w.Verdict = "enough"
	if now > enoughPct {
		w.Verdict = "more would help"
	}
	w.Sentence = fmt.Sprintf("%s: the master bias of %d frames adds %.2g %% to the stack's noise; of 100 frames %.2g %%, of 1000 %.2g %%",
		w.Verdict, have, now, w.increase(100, dithered), w.increase(1000, dithered))
	return w
}

func valueOr(v stats.Value, other float64) float64 {
	if v.OK() {
		return v.V
	}
	return other
}

func (w *Master) thin(in Input, dithered bool) float64 {
	if dithered {
		return 1 / math.Sqrt(float64(in.Subs))
	}
	return 1
}

func (w *Master) increase(n int, dithered bool) float64 {
	for _, c := range w.Cases {
		if c.N == n && c.Dithered == dithered {
			return c.IncreasePct
		}
	}
	return math.NaN()
}

// flatCounts are the numbers of flats weighed.
var flatCounts = []int{5, 10, 20, 50, 100}

// OfFlats tells whether the flats are enough for the subs' signal: a master
// flat's noise is a fixed share of the sky's light in every sub, and without
// flats the pixels' unequal response is.
func OfFlats(in Input) Master {
	w := Master{Label: in.Label, Kind: "flat"}
	if w.Why = in.lacking(); w.Why != "" {
		return w
	}
	have := framesOf(in.Flat)
	if have == 0 {
		w.Why = "no flats fit"
		return w
	}
	snr := in.Flat.Metric("master_snr")
	if !snr.OK() {
		w.Why = "the flats' noise is not known: " + snr.Why
		return w
	}
	signal := max(in.SkyRate.V, 0) * in.Exposure
	in.weighMaster(&w, flatCounts, func(n int) float64 {
		if n == 0 {
			return signal * valueOr(in.Flat.Metric("prnu_pct"), 0) / 100
		}
		return signal / snr.V * math.Sqrt(float64(have)/float64(n))
	})
	dithered := in.DitherPx >= ditherMoves
	now := 100 * (math.Hypot(signal/snr.V*w.thin(in, dithered), in.stackNoise())/in.stackNoise() - 1)
	w.Verdict = "enough"
	if now > enoughPct {
		w.Verdict = "more would help"
	}
	w.Sentence = fmt.Sprintf("%s: the master flat of %d frames adds %.2g %% to the stack's noise", w.Verdict, have, now)
	if now > enoughPct {
		if n := w.fewest(dithered); n > 0 {
			w.Sentence += fmt.Sprintf("; %d flats would add under %d %%", n, enoughPct)
		}
	}
	if p := in.Flat.Metric("corner_falloff_pct"); p.OK() {
		w.Sentence += fmt.Sprintf("; without flats the corners would be %.0f %% dark", p.V)
	}
	return w
}
