package stats

import (
	"math"
	"slices"
)

// tally sorts whole numbers of which most lie close together, as the samples of a raw
// picture's cell do, by counting (Knuth 1973, The Art of Computer Programming 3, 5.2): in
// a third of the time that it takes by their bits.
type tally struct {
	counts [tallySpan]int32 // of each number of the span; 0 between sorts
	beyond []float32        // numbers outside it
}

const tallySpan = 1 << 10

// sort sorts x into sorted, of the same length; false where a number is no whole one, or
// where more than one in eight lies far from the first. NaN is no whole number.
func (t *tally) sort(sorted, x []float32) bool {
	if len(x) == 0 {
		return true
	}
	if !(x[0] > math.MinInt32/2 && x[0] < math.MaxInt32/2) {
		return false
	}
	least := int32(x[0]) - tallySpan/2
	low, high, ok := t.count(x, least)
	if ok {
		slices.Sort(t.beyond)
		below, _ := slices.BinarySearch(t.beyond, float32(least))
		copy(sorted, t.beyond[:below])
		place := int32(below) // of the first of each number: the next one's, once all are placed
		for k, n := range t.counts[low : high+1] {
			t.counts[low+k] = place
			place += n
		}
		for _, v := range x {
			if k := int(int32(v)) - int(least); uint(k) < tallySpan {
				sorted[t.counts[k]] = v
				t.counts[k]++
			}
		}
		copy(sorted[place:], t.beyond[below:])
	}
	clear(t.counts[low : high+1])
	return ok
}

// count counts the numbers of the span that begins at least, and gives the lowest and the
// highest of these; false as sort.
func (t *tally) count(x []float32, least int32) (low, high int, ok bool) {
	low, high, t.beyond = tallySpan/2, tallySpan/2, t.beyond[:0] // where the first is
	for _, v := range x {
		k := int(int32(v)) - int(least)
		if uint(k) < tallySpan {
			if float32(int32(v)) != v {
				return low, high, false
			}
			t.counts[k]++
			low, high = min(low, k), max(high, k)
			continue
		}
		if t.beyond = append(t.beyond, v); v != v || 8*len(t.beyond) > len(x) {
			return low, high, false
		}
	}
	return low, high, true
}
