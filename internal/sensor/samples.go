package sensor

import (
	"iter"
	"math"
	"sync"
	"sync/atomic"

	"fitsqa/internal/frames"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// samples are those of one frame, counted in whole numbers of a scale; nil counts
// where the frame is no raw exposure.
type samples struct {
	counts *stats.Histogram
	scale  stack.Scale
	ended  bool // they surely pile up at the end of 16 bits: the rest was not counted
}

// at is a count's place in ADU.
func (s samples) at(count float64) float64 { return s.scale.Zero + s.scale.Step*count }

// fineBins are those over the whole range of samples that are no whole numbers of 16
// bits: so many that a pile stands out, none of them the end of a converter.
const fineBins = 60000

// samplesOf counts the samples of a raw exposure strip by strip, each while it is in
// the processor's cache: whole numbers of 16 bits as they are, others in a second walk
// between the lowest and the highest.
func (cs *Cameras) samplesOf(f *frames.Frame) (samples, error) {
	if f.Meta.DarkSubtracted || f.Processed() || f.Image.Planes > 1 {
		return samples{}, nil
	}
	whole := samples{counts: stats.NewHistogram(0, math.MaxUint16), scale: stack.Whole}
	lo, hi, err := cs.count(f, &whole)
	if err != nil || !(hi > lo) {
		return whole, err
	}
	parts := samples{counts: stats.NewHistogram(0, fineBins), scale: stack.Scale{Zero: lo, Step: (hi - lo) / fineBins}}
	_, _, err = cs.count(f, &parts)
	return parts, err
}

// surelyEnded samples at the end of 16 bits tell a pile before the rest of a frame is
// counted: twenty times as many as the values just below have, of which one may be seen
// by chance.
const surelyEnded = 20

// count walks over a frame's strips, several at a time, each part with a histogram of
// its own; lo and hi are the range of the samples that are no whole numbers of 16 bits.
func (cs *Cameras) count(f *frames.Frame, into *samples) (lo, hi float64, err error) {
	lo, hi = rangeOf(nil)
	var mu sync.Mutex
	var ended atomic.Bool
	err = cs.stacker.Walk(f, func(part iter.Seq[*frames.Image]) {
		h := stats.NewHistogram(0, len(into.counts.Counts)-1)
		low, high := rangeOf(nil)
		for strip := range part {
			for _, v := range strip.U16 {
				h.Counts[v]++
			}
			if into.scale != stack.Whole {
				into.addTo(h, strip.F32)
				continue
			}
			l, t := rangeOf(strip.F32)
			low, high = min(low, l), max(high, t)
			if f.Image.Bitpix == 16 && h.Counts[math.MaxUint16] >= surelyEnded && pileUp(h, 1) == math.MaxUint16 {
				ended.Store(true)
			}
			if ended.Load() {
				break
			}
		}
		mu.Lock()
		defer mu.Unlock()
		into.counts.Merge(h)
		lo, hi = min(lo, low), max(hi, high)
	})
	into.ended = ended.Load()
	return lo, hi, err
}

// addTo counts samples by the scale; values that are no numbers are left out.
func (s samples) addTo(h *stats.Histogram, x []float32) {
	for _, v := range x {
		if q := (float64(v) - s.scale.Zero) / s.scale.Step; q == q {
			h.Add(int(min(q, fineBins) + 0.5))
		}
	}
}

// rangeOf is the lowest and the highest finite value; of none, the infinities that
// any other replaces.
func rangeOf(x []float32) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if v := float64(v); !math.IsInf(v, 0) && v == v {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	return lo, hi
}
