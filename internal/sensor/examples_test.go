package sensor

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// Two-image temporal variance (EMVA 1288 release 3.1; formula from memory):
// sum of squared differences 49 over 2 NM, less half the squared difference
// 0.0625 of the means, is 1.529296875 exactly.
func Example_temporalVariance() {
	a := []uint16{100, 102, 98, 101, 99, 100, 103, 97, 101, 99, 100, 102, 98, 101, 100, 99}
	b := []uint16{101, 100, 99, 100, 100, 98, 102, 99, 99, 101, 102, 100, 100, 99, 98, 101}
	s := stats.NewStack(4, 4)
	s.Add(nil, [][]uint16{a, b}, 1)
	sd := s.Pairs[0].SD * stats.ClippedShare(stats.PairClip) // nothing was clipped
	fmt.Printf("%.9f\n", sd*sd/2)
	// Output: 1.529296875
}

// Temporal dark noise without quantisation, in electrons (EMVA 1288; formula
// from memory): variance 1.0833333 DN² at 0.25 DN/e- is 4 e-.
func Example_darkNoiseWithoutQuantisation() {
	noise, _ := analogue(stats.Known(math.Sqrt(1.0833333333), 0, 2), 1)
	fmt.Printf("%.6f e-\n", noise.V/0.25)
	// Output: 4.000000 e-
}

// Spatial variance corrected for residual temporal noise (EMVA 1288 release
// 3.1; formulas from memory): DSNU 1.000 DN is 2.000 e- at 0.5 DN/e-, PRNU is
// 1.06654 %. Population variances, as the standard has them.
func Example_spatialVariance() {
	dark := []float64{100, 102, 98, 100, 101, 99, 100, 100}
	half := []float64{1100, 1122, 1088, 1100, 1111, 1089, 1090, 1100}
	corrected := func(x []float64, temporalVariance float64) float64 {
		v := inQuadrature(stats.Known(math.Sqrt(stats.Variance(x)), 0, 16), stats.Known(math.Sqrt(temporalVariance/16), 0, 16), "hidden", "at_most")
		return v.V
	}
	dsnu, at50 := corrected(dark, 4), corrected(half, 104)
	fmt.Printf("DSNU %.3f e-\n", dsnu/0.5)
	fmt.Printf("PRNU %.5f %%\n", 100*math.Sqrt(at50*at50-dsnu*dsnu)/(stats.Mean(half)-stats.Mean(dark)))
	// Output:
	// DSNU 2.000 e-
	// PRNU 1.06654 %
}

// Noiseless photon transfer at 0.25 DN/e- (EMVA 1288; from memory).
func Example_photonTransfer() {
	mu := []float64{500, 1000, 2000, 4000, 8000}
	variance, sigma := make([]float64, 5), make([]float64, 5)
	for i, m := range mu {
		variance[i] = 0.25*m + 1.083333333333
		sigma[i] = variance[i]
	}
	l, _ := stats.FitLine(mu, variance, sigma)
	fmt.Printf("slope %.9f, intercept %.7f\n", l.B, l.A)
	// Output: slope 0.250000000, intercept 1.0833333
}

// Gain and read noise by two flats and two bias frames (Howell, Handbook of CCD
// Astronomy, 2nd ed., section 4.3; the equation from memory, the arrays made up
// and computed with numpy): g = 2.5074708597 e-/ADU, read noise 2.7059587999 e-.
func TestTwoFlatsTwoBiases(t *testing.T) {
	b1 := []uint16{100, 101, 99, 100, 102, 98, 100, 101, 99, 100, 101, 100, 100, 99, 100, 102}
	b2 := []uint16{101, 99, 100, 100, 100, 100, 98, 102, 100, 101, 99, 101, 99, 101, 100, 100}
	f1 := []uint16{1100, 1130, 1080, 1110, 1095, 1070, 1125, 1105, 1085, 1120, 1090, 1115, 1140, 1075, 1100, 1098}
	f2 := []uint16{1120, 1090, 1105, 1088, 1110, 1100, 1085, 1130, 1070, 1102, 1125, 1096, 1099, 1108, 1078, 1112}
	// Every block holds each of the 16 places 64 times, in an order without rows
	// and columns: their means are taken off the difference.
	const side = 8 * pairBlock
	rng := rand.New(rand.NewPCG(1, 2))
	place := make([]int, side*side)
	for block := range 64 {
		for k, to := range rng.Perm(pairBlock * pairBlock) {
			place[(block/8*pairBlock+to/pairBlock)*side+block%8*pairBlock+to%pairBlock] = k % 16
		}
	}
	tile := func(x []uint16) []uint16 {
		out := make([]uint16, side*side)
		for i := range out {
			out[i] = x[place[i]]
		}
		return out
	}
	s := stats.NewStack(side, side)
	s.Add(nil, [][]uint16{tile(b1), tile(b2)}, 1)
	noise := s.Pairs[0].SD / math.Sqrt2
	p := measurePair(tile(f1), tile(f2), side, 1, 0, 0, (100.125+100.0625)/2, noise*noise, topSample, 1)
	// The example divides 16 values by 15, a frame of copies of them by 1023 of
	// 1024: 16/15 less variance. What is left is that rows are brought to one level
	// first, that a clipped variance is corrected, and what random means of rows
	// and columns take of 64 blocks: 1.5 % over sqrt 64.
	const fewer = 15.0 / 16
	if got, want := p.gain.V*fewer, 2.5074708597; !(math.Abs(got-want) <= 0.006*want) {
		t.Errorf("gain %.5f, want %.5f e-/ADU", got, want)
	}
	if got, want := p.gain.V*fewer*noise/math.Sqrt(fewer), 2.7059587999; !(math.Abs(got-want) <= 0.006*want) {
		t.Errorf("read noise %.5f, want %.5f e-", got, want)
	}
	// Without quantisation 2.6073477298 e-, where one twelfth is taken off.
	rn, _ := analogue(stats.Known(noise/math.Sqrt(fewer), 0, 2), 1)
	if got, want := rn.V*p.gain.V*fewer, 2.6073477298; !(math.Abs(got-want) <= 0.006*want) {
		t.Errorf("read noise without quantisation %.5f, want %.5f e-", got, want)
	}
}

// Variance of rounded Gaussian numbers (exact sums; Sheppard's correction): from
// half a step of noise on, step²/12 can be taken off; under it half a step is the
// limit, and under 0.24 steps squared that of EMVA 1288 (0.3958 steps; from memory).
func TestQuantisation(t *testing.T) {
	for _, c := range []struct {
		sigma, variance, step float64
		corrected             bool
	}{
		{1, 1.083333, 1, true},
		{0.5001, 0.5001*0.5001 + 1.0/12, 1, true},
		{0.25, 0.25, 1, false}, // the mean between two steps
		{0.3, 0.171883, 1, false},
		{16, 16*16 + 16.0*16/12, 16, true}, // 12 bits scaled to 16: 4.6188 ADU of quantisation
		{4, 4*4 + 4.0*4/12, 4, true},       // 14 bits: 1.1547 ADU
		{4, 4*4 + 16.0*16/12, 16, false},   // a quarter of a step
		{0, 1.0 / 12, 0, false},            // no step known
	} {
		got, corrected := analogue(stats.Known(math.Sqrt(c.variance), 0, 2), c.step)
		want := c.sigma
		if !c.corrected {
			want = 0.395811 * c.step
			if c.variance > 0.24*c.step*c.step {
				want = c.step / 2
			}
		}
		if c.step == 0 {
			want = math.Sqrt(c.variance)
		}
		if corrected != c.corrected || !(math.Abs(got.V-want) <= 2e-6*max(1, c.step)) {
			t.Errorf("sigma %g on steps of %g: %v, corrected %v", c.sigma, c.step, got.V, corrected)
		}
	}
}

// Masters of a mean: sigma/sqrt N (identity).
func ExampleMasterNoise() {
	for _, n := range []int{5, 20, 100} {
		fmt.Printf("%d darks: %.6f times the noise of a sub\n", n, math.Sqrt(1+1/float64(n)))
	}
	// Output:
	// 5 darks: 1.095445 times the noise of a sub
	// 20 darks: 1.024695 times the noise of a sub
	// 100 darks: 1.004988 times the noise of a sub
}

func lawOf(points ...TemperaturePoint) TemperatureLaw {
	l := TemperatureLaw{Points: points, Electrons: true}
	l.fit()
	return l
}

// Dark current 0.01 at -10 °C and 0.08 at +10 °C (arithmetic): activation
// energy 0.6675895799 eV, and 0.0293816 at 0 °C by Arrhenius where a plain
// exponential gives 0.0282843.
func ExampleTemperatureLaw() {
	l := lawOf(TemperaturePoint{TempC: -10, Rate: 0.01}, TemperaturePoint{TempC: 10, Rate: 0.08})
	at0, extrapolated := l.at(0)
	fmt.Printf("%.7f eV, %.7f e-/s, extrapolated %v\n", l.ActivationEV.V, at0.V, extrapolated)
	fmt.Printf("at %.1f °C\n", l.MidC)
	// Output:
	// 0.6675896 eV, 0.0293816 e-/s, extrapolated false
	// at 0.0 °C
}

// Doubling temperatures and activation energies at 273.15 K (arithmetic), and a
// published pair: 0.633 eV makes a factor of 2.6 from 10 to 21 °C (a paper on
// radiation damage of a flight CCD, exact citation not established).
func TestTemperatureLaw(t *testing.T) {
	for doubling, ev := range map[float64]float64{5: .891314, 5.8: .768374, 6: .742762, 6.3: .707392, 7: .636653} {
		rate := func(celsius float64) float64 { return 0.01 * math.Exp(-ev/boltzmann*(1/kelvin(celsius)-1/kelvin(0))) }
		l := lawOf(TemperaturePoint{TempC: -5, Rate: rate(-5)}, TemperaturePoint{TempC: 0, Rate: rate(0)}, TemperaturePoint{TempC: 5, Rate: rate(5)})
		// The energies are printed to six digits.
		if !(math.Abs(l.DoublingC.V-doubling) <= 2e-5) || !(math.Abs(l.ActivationEV.V-ev) <= 1e-6) {
			t.Errorf("doubling %v, energy %v; want %v, %v", l.DoublingC.V, l.ActivationEV.V, doubling, ev)
		}
	}
	l := lawOf(TemperaturePoint{TempC: 10, Rate: 1}, TemperaturePoint{TempC: 21, Rate: 2.63834})
	if !(math.Abs(l.ActivationEV.V-0.633) <= 0.001) {
		t.Errorf("energy %v, want 0.633 eV", l.ActivationEV.V)
	}
	if v, outside := l.at(-20); !outside || !(v.V > 0 && v.V < 1) {
		t.Errorf("at -20 °C %v, outside %v", v, outside)
	}
}

func TestTemperatureLawReasons(t *testing.T) {
	for name, l := range map[string]TemperatureLaw{
		"none":     lawOf(),
		"one":      lawOf(TemperaturePoint{TempC: 0, Rate: 1, Err: 0.1}),
		"too near": lawOf(TemperaturePoint{TempC: 0, Rate: 1}, TemperaturePoint{TempC: 3, Rate: 1.4}),
		"falling":  lawOf(TemperaturePoint{TempC: 0, Rate: 1}, TemperaturePoint{TempC: 10, Rate: 0.5}),
	} {
		if l.DoublingC.OK() || l.DoublingC.Why.Code == "" {
			t.Errorf("%s: %+v", name, l.DoublingC)
		}
		if v, _ := l.at(0); v.OK() {
			t.Errorf("%s: rate %v at 0 °C", name, v.V)
		}
	}
}
