package demo

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The drawn numbers must follow the Poisson distribution of an independent
// library, exactly where they are drawn exactly and closely where not.
func TestPoissonFollowsTheDistribution(t *testing.T) {
	for _, mean := range []float64{0.05, 1, 7.5, 49, 51, 400, 20000} {
		rng := source(3, "poisson")
		const n = 400000
		counts := map[int]float64{}
		var sum, sum2, sum3 float64
		for range n {
			k := poisson(mean, rng)
			counts[int(k)]++
			d := k - mean
			sum, sum2, sum3 = sum+d, sum2+d*d, sum3+d*d*d
		}
		// 4.5 standard errors each: sd/√n, variance √(2/n + 1/(n mean)), third moment.
		if e := sum / n; !(math.Abs(e) <= 4.5*math.Sqrt(mean/n)) {
			t.Errorf("mean %v: off by %v", mean, e)
		}
		if e := sum2/n/mean - 1; math.Abs(e) > 4.5*math.Sqrt((2+1/mean)/n) {
			t.Errorf("mean %v: variance off by a factor %v", mean, 1+e)
		}
		// The third central moment is the mean; its standard error is about √(15 mean³/n).
		if e := sum3/n - mean; !(math.Abs(e) <= 4.5*math.Sqrt(15*mean*mean*mean/n+5*mean/n)) {
			t.Errorf("mean %v: third moment off by %v", mean, e)
		}
		// Chi-squared over values expected at least 20 times.
		p := distuv.Poisson{Lambda: mean}
		var chi2 float64
		cells := -1
		for k := range counts {
			if want := n * p.Prob(float64(k)); want >= 20 {
				chi2 += (counts[k] - want) * (counts[k] - want) / want
				cells++
			}
		}
		if limit := float64(cells) + 4.5*math.Sqrt(2*float64(max(cells, 1))); cells > 0 && chi2 > limit {
			t.Errorf("mean %v: chi-squared %.1f over %d cells", mean, chi2, cells)
		}
	}
}

// The table gives what the search does, in all but one in perUnit cases.
func TestTabulatedPoisson(t *testing.T) {
	rng := source(4, "table")
	const n = 200000
	known := 0
	for i := range n {
		m, u := normalAbove*rng.Float64(), rng.Float64()
		if i%2 == 0 { // dark frames; and the ends of the distribution
			m, u = m/100, math.Pow(u, 8)
		}
		if i%4 == 1 {
			u = 1 - max(math.Pow(u, 8), 1e-12) // closer to 1 rounding decides
		}
		k, ok := tabulated(m, u)
		if ok {
			known++
		}
		if want := searched(m, u); ok && float64(k) != want {
			t.Fatalf("mean %v, share %v: %d, the search finds %v", m, u, k, want)
		}
	}
	if known < n*9/10 {
		t.Errorf("%d of %d in the table", known, n)
	}
}

func TestPoissonOfNothingIsNothing(t *testing.T) {
	rng := source(1, "none")
	for _, mean := range []float64{0, -1} {
		if k := poisson(mean, rng); k != 0 {
			t.Errorf("poisson(%v) = %v", mean, k)
		}
	}
}

// Arrhenius: an activation energy of 0.636653 eV doubles the rate in 7 °C at
// 0 °C; 0.633 eV gives a factor 2.638 between 10 and 21 °C (computed from the
// law with k = 8.617333e-5 eV/K; the latter pair is a published measurement of
// a radiation-damaged flight CCD, "a factor 2.6").
func TestDarkCurrentLaw(t *testing.T) {
	c := lumen
	c.ActivationEV = 0.636653
	if d := c.DoublingC(0); !(math.Abs(d-7) <= 1e-4) { // printed digits of the energy
		t.Errorf("doubling %v °C, want 7", d)
	}
	c.ActivationEV = 0.633
	if f := c.darkFactor(21) / c.darkFactor(10); !(math.Abs(f-2.63834) <= 1e-4) {
		t.Errorf("factor %v, want 2.63834", f)
	}
}

// 5.4 µm at 1000 mm is 1.1138 arcsec (206.264806 × 5.4 / 1000).
func TestPixelScale(t *testing.T) {
	if s := (Camera{PixelUM: 5.4, FocalMM: 1000}).scale(); !(math.Abs(s-1.1138300) <= 1e-6) {
		t.Errorf("scale %v", s)
	}
}

// The twilight and the Moon must not step: one minute changes neither by half.
func TestSkyRisesSmoothly(t *testing.T) {
	for alt := -20.0; alt < -6; alt += 0.2 {
		a, b := twilightNL(alt), twilightNL(alt+0.2)
		if b < a || b-a > 0.5*(a+540) { // 540 nL is a polluted sky of 19.5 mag
			t.Errorf("Sun at %.1f°: %v then %v nL", alt, a, b)
		}
	}
}
