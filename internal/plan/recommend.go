package plan

import (
	"math"
	"sort"

	"fitsqa/internal/stats"
)

// round exposures that people set (common practice, no source), s.
var roundExposures = []float64{1, 2, 3, 5, 8, 10, 15, 20, 30, 45, 60, 90, 120, 150, 180, 240, 300, 420, 480, 600, 900, 1200, 1500, 1800, 2400, 3600}

// Beyond enough times the shortest exposure there is nothing left to gain, since a
// read noise that added 5 % adds 1.3 %; and beyond enoughGaps gaps between subs
// neither, since those take less than 5 % of the time.
const (
	enough     = 4
	enoughGaps = 20
)

// nearBest is the share of the best efficiency that is as good as the best: in
// signal to noise it is 3.5 %, for which nobody changes a habit.
const nearBest = 0.93

// worthChanging is the gain in signal to noise from which to set another exposure.
const worthChanging = 0.05

// recommend a range in round numbers: where a sub's efficiency is near that of
// the best, gaps and trailing counted. Without trailing the best is where nothing
// is left to gain, stars permitting; but never below the shortest for their sake,
// as a few short subs make up for them.
func (e *Exposure) recommend(rate float64, opt Options) {
	longest := RoundDown(opt.MaxExposure)
	of := func(t float64) float64 {
		return efficiency(t, rate, e.ReadNoise.V, e.TrailRate.Or(0), e.Gap.Or(0))
	}
	best := math.Min(roundUp(math.Max(enough*e.Shortest.V, enoughGaps*e.Gap.Or(0))), longest)
	if e.TrailRate.OK() {
		best = bestExposure(of, longest)
		e.Best = stats.Known(best, math.NaN(), e.TrailRate.N)
	}
	for _, t := range roundExposures {
		if t > longest || !e.TrailRate.OK() && t > best || of(t) < nearBest*of(best) {
			continue
		}
		if math.IsNaN(e.From) {
			e.From = t
		}
		e.To = t
	}
	if math.IsNaN(e.From) {
		e.From, e.To = RoundDown(best), RoundDown(best)
	}
	if e.Saturating.OK() {
		e.spareStars(of, longest)
	}
	e.keepHabit(of)
}

// spareStars ends the range where too many stars saturate, but no lower than read
// noise bears, nor where subs shorter than now lose to gaps what they spare.
func (e *Exposure) spareStars(of func(float64) float64, longest float64) {
	end := math.Max(RoundDown(e.Saturating.V), math.Min(roundUp(e.Shortest.V), longest))
	if end < e.Current && of(end) < nearBest*of(e.Current) {
		end = e.Current
	}
	e.To = math.Min(e.To, end)
	e.From = math.Min(e.From, e.To)
}

// keepHabit widens the range to the current exposure where another gains too
// little to be set.
func (e *Exposure) keepHabit(of func(float64) float64) {
	if !(e.Current > 0) {
		return
	}
	e.Gain = 0
	if e.Current >= e.From {
		return
	}
	if e.Gain = math.Sqrt(of(e.From)/of(e.Current)) - 1; math.Sqrt(of(e.To)/of(e.Current))-1 < worthChanging {
		e.From, e.Gain = e.Current, 0
	}
}

// bestExposure is where a function of the exposure is greatest, within 1 %.
func bestExposure(of func(float64) float64, longest float64) float64 {
	best := 1.0
	for t := 1.0; t <= longest; t *= 1.01 {
		if of(t) > of(best) {
			best = t
		}
	}
	return best
}

// efficiency is the share of the time that the stack is worth, for subs of t s
// against an ideal camera: what trailing leaves when it strikes by chance at a steady
// rate per s, × what read noise leaves, × what the gaps leave.
func efficiency(t, rate, readNoise, trailing, gap float64) float64 {
	return math.Exp(-trailing*t) * rate * t / (rate*t + readNoise*readNoise) * t / (t + gap)
}

// roundUp is the next exposure that people set, s.
func roundUp(t float64) float64 {
	i := sort.SearchFloat64s(roundExposures, t*0.999) // a hair over a round number is that number
	return roundExposures[min(i, len(roundExposures)-1)]
}

// RoundDown is the last exposure before that people set, s.
func RoundDown(t float64) float64 {
	i := sort.SearchFloat64s(roundExposures, t*1.001)
	return roundExposures[max(i-1, 0)]
}
