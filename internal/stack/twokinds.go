package stack

import (
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Two series that no header tells apart, shot at two temperatures, gains or read-out
// modes, look like one whose levels lie in two heaps. Its mean is neither's.

const (
	heapGap   = 5    // noises of a frame's pixel that heaps are apart at least: offsets that hop do so by less (common practice, no source)
	heapCalm  = 6    // times the spread of the frames within a heap, likewise
	heapShare = 0.25 // of the frames that the smaller heap has at least; fewer are outliers
	heapLeast = 2
)

// TwoKinds tells that the frames of a series of bias frames or darks are of two kinds;
// no code where they are not.
func (r *Series) TwoKinds() fact.Fact {
	if len(r.Levels) < 2*heapLeast || !r.Noise.OK() {
		return fact.Fact{}
	}
	levels := make([]float64, len(r.Levels))
	for i, l := range r.Levels {
		levels[i] = l.Level
	}
	slices.Sort(levels)
	at := 1
	for i := range levels[1:] {
		if levels[i+1]-levels[i] > levels[at]-levels[at-1] {
			at = i + 1
		}
	}
	low, high := levels[:at], levels[at:]
	few := min(len(low), len(high))
	within := math.Sqrt((stats.Variance(low)*float64(len(low)) + stats.Variance(high)*float64(len(high))) / float64(len(levels)))
	if gap := high[0] - low[at-1]; few < heapLeast || float64(few) < heapShare*float64(len(levels)) || gap < heapGap*r.Noise.V || gap < heapCalm*within {
		return fact.Fact{}
	}
	return fact.Of(KindsMixed, fact.Count("low", len(low)), fact.Number("low_adu", stats.Mean(low)),
		fact.Count("high", len(high)), fact.Number("high_adu", stats.Mean(high)))
}
