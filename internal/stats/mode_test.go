package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestRadixSort(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	inf := float32(math.Inf(1))
	draw := map[string]func() float32{
		"whole":    func() float32 { return float32(rng.IntN(3000)) },
		"normal":   func() float32 { return float32(1000 * rng.NormFloat64()) },
		"one":      func() float32 { return 7 },
		"odd bits": func() float32 { return []float32{0, -inf, inf, 1e-40, -1e-40, math.MaxFloat32}[rng.IntN(6)] },
	}
	for name, f := range draw {
		for _, n := range []int{0, 1, 2, 3, 100, 441} {
			x := make([]float32, n)
			for i := range x {
				x[i] = f()
			}
			want := slices.Clone(x)
			slices.Sort(want)
			radixSort(x, make([]float32, n))
			if !slices.Equal(x, want) {
				t.Errorf("%s: %d values out of order", name, n)
			}
		}
	}
}

// TestModeAgainstSlow holds the mode of sorted samples to the same estimate by
// plain loops over unsorted ones.
func TestModeAgainstSlow(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for n := range 300 {
		x := make([]float32, 16+rng.IntN(500))
		level, noise := 5000*rng.Float64(), math.Exp(6*rng.Float64()-2)
		stars := 0.3 * rng.Float64()
		for i := range x {
			v := level + noise*rng.NormFloat64()
			if rng.Float64() < stars {
				v += 20 * noise * rng.ExpFloat64()
			}
			x[i] = float32(v)
			if n%2 == 0 {
				x[i] = float32(math.Round(v))
			}
		}
		if n%10 == 0 {
			x[0], x[1] = float32(math.Inf(1)), float32(math.Inf(-1))
		}
		wantLevel, wantNoise := slowMode(slices.Clone(x))
		radixSort(x, make([]float32, len(x)))
		gotLevel, gotNoise := modeOfSorted(x, 0)
		// A few roundings of float32.
		tol := 1e-6 * (math.Abs(level) + noise)
		if math.Abs(float64(gotLevel-wantLevel)) > tol || math.Abs(float64(gotNoise-wantNoise)) > tol {
			t.Fatalf("level %v noise %v, want %v and %v", gotLevel, gotNoise, wantLevel, wantNoise)
		}
	}
}

func slowMode(x []float32) (level, noise float32) {
	slices.Sort(x)
	med := x[len(x)/2]
	sd := med - x[int(0.1587*float64(len(x)))]
	if !(sd > 0) {
		sd = float32(math.Sqrt(meanSquareFrom(x, med)))
	}
	mean := med
	for range 4 {
		var kept []float32
		var sum, sum2 float64
		for _, v := range x {
			if v >= med-3*sd && v <= med+3*sd {
				kept = append(kept, v)
				d := float64(v - med)
				sum += d
				sum2 += d * d
			}
		}
		if len(kept) < 8 {
			break
		}
		n := float64(len(kept))
		mean = med + float32(sum/n)
		next := float32(math.Sqrt(max(0, sum2/n-sum/n*sum/n)) / clipped3)
		med = slowGroupedMedian(kept)
		done := len(kept) == len(x) || next > 0.99*sd
		if next > 0 {
			sd = next
		}
		if x = kept; done {
			break
		}
	}
	return 2*med - mean, sd
}

func slowGroupedMedian(x []float32) float32 {
	med := x[len(x)/2]
	below, equal := 0, 0
	lower, upper := float32(math.Inf(-1)), float32(math.Inf(1))
	for _, v := range x {
		switch {
		case v < med:
			below++
			lower = max(lower, v)
		case v > med:
			upper = min(upper, v)
		default:
			equal++
		}
	}
	step := min(med-lower, upper-med)
	if equal < 2 || math.IsInf(float64(step), 0) {
		return med
	}
	return med + step*((float32(len(x))/2-float32(below))/float32(equal)-0.5)
}

// Of samples of a coarse converter, off which a master with fractions of a step was taken,
// the level is told far within a step. By the median of the samples as they lie it is a
// tenth to a half of a step off.
func TestModeOfCoarseSamples(t *testing.T) {
	const step, frames, n = 16.0, 8, 4000
	rng := rand.New(rand.NewPCG(15, 16))
	for _, noise := range []float64{0.45, 0.6, 0.8, 1, 1.5, 1.9} { // in steps
		var off, most float64
		for range 20 {
			offset, sky := 500+step*rng.Float64(), step*rng.Float64()
			draw := func(level float64) float64 {
				return step * math.Round((level+noise*step*rng.NormFloat64())/step)
			}
			x := make([]float32, n)
			for i := range x {
				var master float64
				for range frames {
					master += draw(offset) / frames
				}
				x[i] = float32(draw(offset+sky) - master)
			}
			slices.Sort(x)
			level, _ := modeOfSorted(x, step)
			d := (float64(level) - sky) / step
			off, most = off+d*d/20, math.Max(most, math.Abs(d))
		}
		// A median has 1.25 of the mean's error, the mode half way twice that; a converter of
		// noise 0.45 shifts means by up to 0.006 steps.
		if limit := 2.5*math.Hypot(noise, 0.3)*math.Sqrt((1+1./frames)/n) + 0.006; !(math.Sqrt(off) <= limit) {
			t.Errorf("noise of %g steps: rms %.3f steps, at most %.3f off; limit %.3f", noise, math.Sqrt(off), most, limit)
		}
	}
}
