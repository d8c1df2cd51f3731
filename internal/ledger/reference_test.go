package ledger

import (
	"math"
	"testing"

	"fitsqa/internal/night"
)

// The season's best sky and sharpest stars are what a quarter of the kept subs reach, in
// few subs as in many: the 26th of 101. Shares of 0.23, 0.24, 0.26 and 0.27 would give
// the 24th, 25th, 27th and 28th.
func TestBestOfASeasonIsItsQuarter(t *testing.T) {
	for _, n := range []int{5, 41, 101} {
		m := merit{}
		for i := range n {
			k := float64(i * 37 % n) // in no order
			m.noise, m.fwhm = append(m.noise, 5+k), append(m.fwhm, 2+2*k)
		}
		var r night.Reference
		m.fill(&r)
		quarter := float64(n-1) / 4
		within(t, "noise of the sky", r.Noise, 5+quarter, 0.25)
		within(t, "FWHM", r.FWHM, 2+2*quarter, 0.5)
		if r.Subs != n {
			t.Errorf("%d subs of %d", r.Subs, n)
		}
	}
}

// Fewer than five subs have neither a median that could be the best nor a spread.
func TestSubsEnoughForABest(t *testing.T) {
	for n, enough := range map[int]bool{3: false, 4: false, 5: true, 6: true} {
		var x []float64
		for i := range n {
			x = append(x, 2+float64(i))
		}
		if got := medianOfEnough(x); math.IsNaN(got) == enough {
			t.Errorf("median of %d subs: %v", n, got)
		}
		if got := spreadOf(x, 0.1); got.Subs != n || math.IsNaN(got.Median) == enough || math.IsNaN(got.Best) == enough {
			t.Errorf("spread of %d subs: %+v", n, got)
		}
	}
}
