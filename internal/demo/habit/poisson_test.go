package habit

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Counts of each value follow the distribution of gonum's: chi square of as many cells
// as expect 20 or more, within five of its standard deviations.
func TestPoisson(t *testing.T) {
	const n = 100_000
	for _, mean := range []float64{0.03, 0.7, 1, 1.5, 7.25, 12, 39.9, 40, 300} {
		rng := rand.New(rand.NewPCG(1, uint64(100*mean)))
		counts := map[float64]float64{}
		var sum float64
		for range n {
			k := Poisson(mean, rng)
			counts[k]++
			sum += k
		}
		if off := (sum/n - mean) / math.Sqrt(mean/n); !(math.Abs(off) <= 4) {
			t.Errorf("mean %g: %.4f, %.1f standard errors off", mean, sum/n, off)
		}
		if mean >= normalFrom {
			continue // a normal deviate: its mean alone is that of the distribution
		}
		var chi2, cells float64
		for k := 0.0; k < 4*normalFrom; k++ {
			if want := n * (distuv.Poisson{Lambda: mean}).Prob(k); want >= 20 {
				chi2, cells = chi2+(counts[k]-want)*(counts[k]-want)/want, cells+1
			}
		}
		if off := (chi2 - cells) / math.Sqrt(2*cells); !(math.Abs(off) <= 5) {
			t.Errorf("mean %g: chi square %.1f of %g cells", mean, chi2, cells)
		}
	}
	if Poisson(0, nil) != 0 || Poisson(-1, nil) != 0 {
		t.Error("counts of nothing")
	}
}
