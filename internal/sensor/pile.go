package sensor

import (
	"math"
	"slices"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// wholeTops are the highest numbers that converters of whole bits give.
var wholeTops = []int{1<<10 - 1, 1<<12 - 1, 1<<14 - 1, 1<<16 - 1}

// smear is the part of the highest sample over which saturation may be smeared.
const smear = 500

// The windows that saturation is sought in are one value wide in flats, where the fall of
// the noise tells a full well better, and as wide as it may be smeared in stars.
const (
	ofFlats = 1
	ofStars = math.MaxUint16
)

// pileUp is the sample at which saturated pixels pile up: the highest value
// that occurs, when it is far commoner than the values just below it; NaN when
// no frame reached saturation. The read-out may smear a pile over a few values, by the
// noise that it adds to a full well: it is sought in windows up to the widest, of the last
// few per mille at most. The light of stars below saturation makes none so narrow, as its
// own noise is as wide.
func pileUp(h *stats.Histogram, widest int) float64 {
	end := highest(h)
	if math.IsInf(end, -1) {
		return math.NaN()
	}
	top := int(end) - h.Min
	last := top/smear + 2
	for width := 1; width <= min(last, widest); width *= 2 {
		if end, ok := pileWithin(h, top, last, width); ok {
			best := end
			for v := end; v > end-width; v-- {
				if h.Counts[v] > h.Counts[best] {
					best = v
				}
			}
			return float64(best)
		}
	}
	return math.NaN()
}

// pileWithin is the highest value of the fullest of the windows of a width among the last
// values that occur, and whether it stands out from those below it.
func pileWithin(h *stats.Histogram, top, last, width int) (end int, ok bool) {
	within := func(end int) (n uint64) {
		for v := end; v > max(end-width, -1); v-- {
			n += h.Counts[v]
		}
		return n
	}
	most := uint64(0)
	for v := top; v > max(top-last, -1); v-- {
		if c := within(v); c > most {
			end, most = v, c
		}
	}
	var below, windows float64
	for v := end - width; v >= 0 && v > end-end/20-64; v -= width {
		if c := within(v); c > 0 {
			below += float64(c)
			windows++
		}
	}
	n := float64(most)
	fewest := 10.0
	if end == top && slices.Contains(wholeTops, h.Min+end) {
		fewest = 4 // where converters end, a few samples tell
	}
	if n < fewest || windows > 0 && n < 20*below/windows {
		return 0, false
	}
	// A constant frame that no light filled tells nothing.
	return end, windows > 0 || n < float64(h.N()) || frames.AtFullScale(float64(h.Min+end))
}

// highest is the highest value that was counted; -Inf where none was.
func highest(h *stats.Histogram) float64 {
	for i := len(h.Counts) - 1; i >= 0; i-- {
		if h.Counts[i] != 0 {
			return float64(h.Min + i)
		}
	}
	return math.Inf(-1)
}
