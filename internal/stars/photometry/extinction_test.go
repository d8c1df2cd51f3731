package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// losing is a night of n subs from airmass 1.1 on over a range, dimmed by k mag per
// airmass, with 0.02 mag of noise and a share of them behind 0.1 to 1.5 mag of
// cloud, which comes in runs of five.
func losing(seed uint64, n int, k, span, clouded float64) ([]stats.Value, []float64) {
	rng := rand.New(rand.NewPCG(seed, 12))
	var ratio []stats.Value
	var airmass []float64
	cloudy := false
	for i := range n {
		if i%5 == 0 {
			cloudy = rng.Float64() < clouded
		}
		x := 1.1 + span*float64(i)/float64(n-1)
		loss := k*(x-1.1) + 0.02*rng.NormFloat64()
		if cloudy {
			loss += 0.1 + 1.4*rng.Float64()
		}
		r := math.Pow(10, -0.4*loss)
		ratio, airmass = append(ratio, stats.Known(r, 0.02/1.0857*r, 40)), append(airmass, x)
	}
	return ratio, airmass
}

func TestExtinction(t *testing.T) {
	for seed := range uint64(20) {
		for _, k := range []float64{0, 0.15, 0.3, 0.6} {
			for _, span := range []float64{0.4, 1} {
				e := FitExtinction(losing(seed, 60, k, span, 0.3))
				if !e.K.OK() {
					t.Errorf("seed %d, k %.2f over %.1f: %v", seed, k, span, e.K.Why)
					continue
				}
				if d := math.Abs(e.K.V - k); d > 0.03 && d > 3*e.K.Err {
					t.Errorf("seed %d: %.3f ± %.3f from %d subs, want %.2f", seed, e.K.V, e.K.Err, e.K.N, k)
				}
				// Clear subs of 60 leave 0.02/(0.29 span sqrt n), with some luck lost to cloud, and more
				// where thin cloud passes for clear: that goes together from sub to sub.
				if want := 0.02 / (0.29 * span * math.Sqrt(40)); e.K.Err > 2.5*want || e.K.Err < want/2 {
					t.Errorf("seed %d: error %.3f, expected about %.3f", seed, e.K.Err, want)
				}
			}
		}
	}
}

// Haze that comes and goes while the target culminates, seen by the same subs at the same depth
// of air twice, is in the error: what is left of subs that follow each other goes together.
func TestExtinctionInHaze(t *testing.T) {
	square, n := 0.0, 0.0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 32))
		phase := 6 * rng.Float64()
		var ratio []stats.Value
		var airmass []float64
		for i := range 50 {
			u := float64(i) / 49
			x := 1.05 + 0.9*math.Pow(math.Abs(u-0.4)/0.6, 1.6)
			r := math.Pow(10, -0.4*(0.2*(x-1.05)+0.05*(1+math.Sin(8*u+phase))+0.01*rng.NormFloat64()))
			ratio, airmass = append(ratio, stats.Known(r, 0.01*r, 40)), append(airmass, x)
		}
		if e := FitExtinction(ratio, airmass); e.K.OK() {
			z := (e.K.V - 0.2) / e.K.Err
			square, n = square+z*z, n+1
		}
	}
	// Taken as free of each other the subs left an rms of 6.2; a wave is no noise with a
	// correlation, so that twice and a half of what is stated is what can be had.
	if z := math.Sqrt(square / n); n < 20 || z > 2.5 {
		t.Errorf("off by %.2f of the errors, rms of %g nights", z, n)
	}
}

func TestExtinctionThatCannotBeTold(t *testing.T) {
	few, x := losing(1, 60, 0.2, 1, 0)
	one, ox := losing(1, 30, 0.2, 0.1, 0)
	one, ox = append(one, stats.Known(0.5, 0.01, 40)), append(ox, 3)
	better, bx := losing(1, 60, -0.4, 1, 0)
	dew, dx := losing(1, 60, 1.4, 1, 0)
	for _, c := range []struct {
		name    string
		ratio   []stats.Value
		airmass []float64
		why     fact.Code
	}{
		{"seven subs", few[:7], x[:7], stars.FewMeasured},
		{"no airmass", few, make([]float64, 60), stars.NarrowMeasured},
		{"one low sub alone", one, ox, stars.NarrowMeasured},
		{"clearing", better, bx, stars.LightGrew},
		{"dew", dew, dx, stars.TooSteep},
	} {
		if e := FitExtinction(c.ratio, c.airmass); e.K.OK() || e.K.Why.Code != c.why {
			t.Errorf("%v: %v, %v", c.name, e.K.V, e.K.Why)
		}
	}
	for seed := range uint64(5) {
		if e := FitExtinction(losing(seed, 60, 0.3, 0.2, 0.3)); e.K.OK() || e.K.Why.Code != stars.NarrowMeasured && e.K.Why.Code != stars.NarrowClear {
			t.Errorf("range 0.2, seed %d: %v, %v", seed, e.K.V, e.K.Why)
		}
		if e := FitExtinction(losing(seed, 60, 0.3, 1, 1)); e.K.OK() || e.K.Why.Code == "" {
			t.Errorf("all cloudy, seed %d: %v ± %v", seed, e.K.V, e.K.Err)
		}
	}
}
