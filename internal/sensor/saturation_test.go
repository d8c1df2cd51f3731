package sensor

import (
	"math"
	"testing"

	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
)

// A pile that the read-out smears over a per mille is one, in whole numbers and in
// parts; what another frame of parts exceeds by a twentieth is not where samples end.
func TestTopOfAll(t *testing.T) {
	piled := func(scale stack.Scale, at, above int) samples {
		h := stats.NewHistogram(0, math.MaxUint16)
		for v := range 3000 {
			h.Counts[v] = 5
		}
		h.Counts[at], h.Counts[above] = 500, 2
		return samples{h, scale}
	}
	parts, twice := stack.Scale{Step: 1. / 4096}, stack.Scale{Step: 1.05 / 4096}
	for _, c := range []struct {
		name      string
		each      []samples
		pile, top float64
	}{
		{"nothing to see", []samples{{}}, math.NaN(), math.Inf(-1)},
		{"whole numbers, smeared", []samples{piled(stack.Whole, 4000, 4006), {}}, 4000, 4006},
		{"parts, smeared", []samples{piled(parts, 4000, 4006)}, 4000. / 4096, 4006. / 4096},
		{"parts, exceeded", []samples{piled(parts, 4000, 4006), {func() *stats.Histogram { h := stats.NewHistogram(0, 5000); h.Counts[4100] = 1; return h }(), twice}}, math.NaN(), 1.05 * 4100 / 4096},
	} {
		pile, top := topOfAll(c.each)
		if !(pile == c.pile || math.IsNaN(pile) && math.IsNaN(c.pile)) || math.Abs(top-c.top) > 1e-9 && top != c.top {
			t.Errorf("%s: pile %v, top %v; want %v, %v", c.name, pile, top, c.pile, c.top)
		}
	}
}

// Frames of one value are full where a converter ends, and tell nothing elsewhere.
func TestPileOfConstantFrames(t *testing.T) {
	for value, want := range map[int]float64{65535: 65535, 65520: 65520, 4095: 4095, 30000: math.NaN(), 0: math.NaN()} {
		h := stats.NewHistogram(0, math.MaxUint16)
		h.Counts[value] = 240000
		if got := pileUp(h); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%d: %v, want %v", value, got, want)
		}
	}
}
