package tie

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// Fields that are all equally clear, measured with an error of 5 %, have
// transparency 1 on average, not 1 for the luckiest.
func TestClearReferenceIsNotTheLuckiestField(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const n, err = 200, 0.05
	all := make([]Transparency, n)
	for i := range all {
		all[i].Ratio = stats.Known(3*(1+err*rng.NormFloat64()), 3*err, 12)
	}
	all[7].Ratio = stats.Missing("no stars")
	Normalise(all)
	var sum float64
	for i, a := range all {
		if i != 7 {
			sum += a.Ratio.V
		}
	}
	// The lowest few fall outside two standard errors of the best: 1 to 2 % remain.
	if mean := sum / (n - 1); math.Abs(mean-1) > 0.03 {
		t.Errorf("mean transparency %.3f", mean)
	}
	if all[7].Ratio.OK() {
		t.Error("a field without a ratio got one")
	}
}

// With small errors the best of a cloudy night define clear, not the mean.
func TestClearReferenceOfACloudyNight(t *testing.T) {
	all := make([]Transparency, 20)
	for i := range all {
		v := 2.0
		if i >= 4 {
			v = 1.5 - 0.05*float64(i)
		}
		all[i].Ratio = stats.Known(v, 0.01, 200)
	}
	Normalise(all)
	if got := all[0].Ratio.V; math.Abs(got-1) > 1e-12 {
		t.Errorf("the clearest has %.4f", got)
	}
	if got, want := all[10].Ratio.V, 0.5; math.Abs(got-want) > 1e-12 {
		t.Errorf("a clouded one has %.4f, want %.4f", got, want)
	}
}
