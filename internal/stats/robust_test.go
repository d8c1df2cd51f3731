package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"
)

// The arrays and every value of this table: output of astropy.stats 5.2.1 with
// its defaults (sigma_clip with 10 iterations), and numpy.percentile 1.24.2.
// The arithmetic is the same, so only rounding differs: 1e-12 relative.
var astropyTable = []struct {
	name                            string
	x                               []float64
	mean, sd, median, mad, madSigma float64
	clipMean, clipMedian, clipSD    float64
	clipN                           int
	q25, q75                        float64
}{
	{"outlier high", []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 100},
		14.5, 28.605069480775605, 5.5, 2.5, 3.706505546264005,
		5, 5, 2.581988897471611, 9, 3.25, 7.75},
	{"two outliers that hide each other", []float64{10.1, 9.9, 10.0, 10.2, 9.8, 10.05, 9.95, 10.0, 14.0, 3.0},
		9.7, 2.5338705570727167, 10.0, 0.1, 0.14826022185055968,
		9.7, 10, 2.5338705570727167, 10, 9.9125, 10.0875},
	{"no outlier", []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
		6, 3.1622776601683795, 6, 3, 4.447806655516806,
		6, 6, 3.1622776601683795, 11, 3.5, 8.5},
	{"outliers on both sides", []float64{1000, 1001, 999, 1002, 998, 1000, 1003, 997, 1001, 999, 1000, 1500, 1000, 1002, 998, 400},
		993.75, 195.16227222493595, 1000, 1.5, 2.223903327758403,
		1000, 1000, 1.647508942095828, 14, 998.75, 1001.25},
	{"quantised, MAD zero", []float64{2, 2, 2, 2, 2, 2, 2, 9},
		2.875, 2.315032397181517, 2, 0, 0,
		2, 2, 0, 7, 2, 2},
}

func TestRobustAgainstAstropy(t *testing.T) {
	for _, c := range astropyTable {
		t.Run(c.name, func(t *testing.T) {
			before := slices.Clone(c.x)
			clip := SigmaClip(c.x, 3, 10)
			for _, v := range []struct {
				what      string
				got, want float64
			}{
				{"mean", Mean(c.x), c.mean}, {"sd", math.Sqrt(Variance(c.x)), c.sd},
				{"median", Median(c.x), c.median}, {"MAD", mad(c.x), c.mad}, {"MAD sigma", MADSigma(c.x), c.madSigma},
				{"clipped mean", clip.Mean, c.clipMean}, {"clipped median", clip.Median, c.clipMedian},
				{"clipped sd", clip.SD, c.clipSD}, {"clipped n", float64(clip.N), float64(c.clipN)},
				{"lower quartile", Quantile(c.x, 0.25), c.q25}, {"upper quartile", Quantile(c.x, 0.75), c.q75},
			} {
				if !scalar.EqualWithinAbsOrRel(v.got, v.want, 1e-12, 1e-12) {
					t.Errorf("%s = %.17g, want %.17g", v.what, v.got, v.want)
				}
			}
			if !slices.Equal(before, c.x) {
				t.Error("input was changed")
			}
		})
	}
}

func TestSigmaClipPasses(t *testing.T) {
	// astropy.stats 5.2.1: one pass leaves an outlier that a second one takes.
	x := astropyTable[3].x
	got := SigmaClip(x, 3, 1)
	if got.N != 15 || !scalar.EqualWithinRel(got.Mean, 1033.3333333333333, 1e-12) || !scalar.EqualWithinRel(got.SD, 124.7320684, 1e-9) {
		t.Errorf("one pass: %+v", got)
	}
}

func TestSelectionAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	shapes := map[string]func(i int) float64{
		"random":   func(int) float64 { return rng.NormFloat64() },
		"rising":   func(i int) float64 { return float64(i) },
		"falling":  func(i int) float64 { return float64(-i) },
		"constant": func(int) float64 { return 7 },
		"steps":    func(i int) float64 { return float64(i % 3) },
		"organ":    func(i int) float64 { return float64(min(i, 200-i)) },
	}
	for name, f := range shapes {
		for n := 1; n <= 200; n++ {
			x := make([]float64, n)
			for i := range x {
				x[i] = f(i)
			}
			sorted := slices.Sorted(slices.Values(x))
			want := (sorted[(n-1)/2] + sorted[n/2]) / 2
			if got := Median(x); !scalar.EqualWithinAbsOrRel(got, want, 1e-15, 1e-15) {
				t.Fatalf("%s %d: median %v, want %v", name, n, got, want)
			}
			k := rng.IntN(n)
			if got := SelectKth(slices.Clone(x), k); got != sorted[k] {
				t.Fatalf("%s %d: %d-th smallest %v, want %v", name, n, k, got, sorted[k])
			}
		}
	}
}

// Of many values a sample tells where to look, and where it misleads all are sorted through.
func TestLongSelectionAgainstSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 3))
	for name, f := range map[string]func(i int) float64{
		"random":     func(int) float64 { return rng.NormFloat64() },
		"rising":     func(i int) float64 { return float64(i) },
		"constant":   func(int) float64 { return 7 },
		"steps":      func(i int) float64 { return float64(i % 3) },
		"rounded":    func(int) float64 { return math.Round(2 * rng.NormFloat64()) },
		"infinite":   func(int) float64 { return math.Inf(rng.IntN(3) - 1) },
		"misleading": func(i int) float64 { return float64(i) + 1e6*float64((i+sampleStep/2)%sampleStep/(sampleStep-1)) },
		"unsampled":  func(i int) float64 { return float64(min(1, (i+sampleStep/2)%sampleStep)) * rng.Float64() },
	} {
		for _, n := range []int{manyValues, manyValues + 1, 3*manyValues + 7} {
			x := make([]float64, n)
			for i := range x {
				x[i] = f(i)
			}
			sorted := slices.Sorted(slices.Values(x))
			for _, k := range []int{0, 1, n / 100, n/2 - 1, n / 2, n - n/100, n - 2, n - 1} {
				y := slices.Clone(x)
				if kth, next := twoFrom(y, k); kth != sorted[k] || next != sorted[min(k+1, n-1)] {
					t.Fatalf("%s %d: from the %d-th %v and %v, want %v and %v", name, n, k, kth, next, sorted[k], sorted[min(k+1, n-1)])
				}
				if slices.Sort(y); !slices.Equal(y, sorted) {
					t.Fatalf("%s %d: other values after the search", name, n)
				}
			}
		}
	}
}

func TestNothingToMeasure(t *testing.T) {
	var none []float64
	for what, v := range map[string]float64{
		"median": Median(none), "quantile": Quantile(none, 0.5), "MAD": mad(none), "mean": Mean(none), "variance": Variance(none),
		"quantile outside": Quantile([]float64{1, 2}, 1.5), "quantile NaN": Quantile([]float64{1, 2}, math.NaN()),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s of nothing = %v, want NaN", what, v)
		}
	}
	if v := Missing("why"); v.OK() || v.Why.Code != "why" {
		t.Errorf("Missing = %+v", v)
	}
	if v := Known(2, 0.5, 3).Scaled(-2); v.V != -4 || v.Err != 1 || v.N != 3 {
		t.Errorf("Scaled = %+v", v)
	}
}

// One pixel, and a float32 median that must not overflow where the sum of the
// middle two would.
func TestMedianSmallCases(t *testing.T) {
	if got := Median([]float32{5}); got != 5 {
		t.Errorf("one value: %v", got)
	}
	if got := Median([]float64{math.MaxFloat64, math.MaxFloat64}); got != math.MaxFloat64 {
		t.Errorf("largest values: %v", got)
	}
}

func BenchmarkMedian(b *testing.B) {
	for _, n := range []int{1e2, 1e4, 1e6} {
		rng := rand.New(rand.NewPCG(3, 4))
		x := make([]float32, n)
		for i := range x {
			x[i] = float32(rng.NormFloat64())
		}
		scratch := make([]float32, n)
		b.Run(map[int]string{1e2: "1e2", 1e4: "1e4", 1e6: "1e6"}[n], func(b *testing.B) {
			b.SetBytes(int64(4 * n))
			for b.Loop() {
				copy(scratch, x)
				MedianInPlace(scratch)
			}
		})
	}
}
