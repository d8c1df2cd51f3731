package tie

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// through dims a view by what lets so much light through at each place.
func through(f *stars.Field, let func(x, y float64) float64) *stars.Field {
	var left []stars.Star
	for _, s := range f.Stars {
		if s.Flux *= let(s.X, s.Y); s.Flux > 200 {
			left = append(left, s)
		}
	}
	f.Stars, f.Count = left, len(left)
	return f
}

// A tree over a part of the field takes that part's light, and a sub that it darkens
// has less noise there; frost takes a part of it. Dense and sparse fields. Of parts
// of a sixteenth, half a part is known at each end of what is covered: 0.06; with
// 45 stars bright enough, three standard deviations of as many draws.
func TestCoveredField(t *testing.T) {
	const w, h = 1200, 900
	for seed := range uint64(3) {
		for _, n := range []int{150, 1200} {
			for _, share := range []float64{0, 0.11, 0.25, 0.4, 0.63} {
				for _, passes := range []float64{0, 0.4} {
					rng := rand.New(rand.NewPCG(seed, 17))
					sky := newSkyField(rng, n, 60, w, h)
					edge := share * w
					let := func(x, y float64) float64 {
						if x < edge {
							return passes
						}
						return 1
					}
					var fields []*stars.Field
					for range 7 {
						f := sky.view(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, all)
						f.RandomNoise = stats.Known(10, 0.1, 1000)
						fields = append(fields, f)
					}
					odd := through(sky.view(rng, w, h, 5, 0, 0, 1, false, all), let)
					odd.RandomNoise = stats.Known(10-8*share, 0.1, 1000)
					for range stars.Parts {
						for i := range stars.Parts {
							noise := 10.0
							if (float64(i)+0.5)*w/stars.Parts < edge {
								noise = 2
							}
							odd.NoiseParts = append(odd.NoiseParts, noise)
						}
					}
					fields = append(fields, odd)
					al, _ := Align(fields)
					light := Transparencies(fields, al, nil)
					got, clear := light[7], light[0]
					tolerance := 0.06
					if n < 1000 {
						tolerance = max(0.15, 3*math.Sqrt(share*(1-share)/45))
					}
					want := 1 - share*(1-passes)
					if math.Abs(got.Ratio.V-want) > tolerance {
						t.Errorf("seed %d, %d stars, %v covered, %v passes: ratio %.3f, want %.3f", seed, len(fields[0].Stars), share, passes, got.Ratio.V, want)
					}
					if passes == 0 && math.Abs(got.Covered.V-share) > tolerance {
						t.Errorf("seed %d, %d stars, %v covered: %v", seed, len(fields[0].Stars), share, got.Covered)
					}
					if relative := got.Depth.V / clear.Depth.V; passes == 0 && math.Abs(relative-(1-share)) > 1.5*tolerance {
						t.Errorf("seed %d, %d stars, %v covered: depth %.3f of a clear one's", seed, len(fields[0].Stars), share, relative)
					}
					if !(clear.Covered.V < 0.02) || math.Abs(clear.Ratio.V-1) > 0.03 {
						t.Errorf("seed %d: clear sub covered by %v, ratio %v", seed, clear.Covered, clear.Ratio)
					}
				}
			}
		}
	}
}
