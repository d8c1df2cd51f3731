package stats

import "math"

// nearDiff is how far the two frames of a pair may differ for a difference to
// be counted in the small table: one of 32 KiB, so that those of many pairs
// stay in the processor's cache and cost no time to look through.
const (
	nearDiff = 1 << 12
	nearMask = 2*nearDiff - 1
	farMask  = 1<<17 - 1
)

// diffCounts counts the differences of one pair. A difference d from -nearDiff
// to nearDiff-1 is found in near at d modulo its length, so that the index
// needs no bounds check; any other in far at d modulo 2^17.
type diffCounts struct {
	near [2 * nearDiff]uint32
	far  *[farMask + 1]uint32 // nil until there is one
}

// wide tells by the bitwise or of d+nearDiff over a row whether all differences
// were near ones.
func wide(or uint32) bool { return or > nearMask }

// recount puts those differences of a row that are far, and were counted in
// near like all others, where they belong.
func (c *diffCounts) recount(from, to []uint16) {
	if c.far == nil {
		c.far = new([farMask + 1]uint32)
	}
	for i, v := range to {
		if d := uint32(v) - uint32(from[i]); wide(d + nearDiff) {
			c.near[d&nearMask]--
			c.far[d&farMask]++
		}
	}
}

// histogram is the sum of some counts of one pair.
func histogram(parts []*diffCounts) *Histogram {
	h := NewHistogram(-nearDiff, nearDiff-1)
	for _, c := range parts {
		if c.far != nil {
			h = NewHistogram(-math.MaxUint16, math.MaxUint16)
			break
		}
	}
	for _, c := range parts {
		for d := -nearDiff; d < nearDiff; d++ {
			h.Counts[d-h.Min] += uint64(c.near[d&nearMask])
		}
		if c.far == nil {
			continue
		}
		for d := -math.MaxUint16; d <= math.MaxUint16; d++ {
			h.Counts[d-h.Min] += uint64(c.far[d&farMask])
		}
	}
	return h
}
