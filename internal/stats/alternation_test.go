package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Rows that alternate on a slope, with noise and a few bright ones: estimates
// of many profiles scatter as their errors say.
func TestAlternation(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	var z2 float64
	const runs = 400
	for range runs {
		p := make([]float64, 200)
		truth := 3 * rng.NormFloat64()
		for i := range p {
			p[i] = 0.05*float64(i) + rng.NormFloat64() + truth*float64(i%2)
			if rng.IntN(40) == 0 {
				p[i] += 50
			}
		}
		v := Alternation(p)
		z := (v.V - truth) / v.Err
		z2 += z * z / runs
	}
	// 400 runs tell the rms to 3.5 %; bright rows and a small sample of a median add some.
	if rms := math.Sqrt(z2); rms < 0.8 || rms > 1.3 {
		t.Errorf("rms of z = %.2f", rms)
	}
	if v := Alternation(make([]float64, 9)); v.OK() {
		t.Error("nine rows tell", v)
	}
}
