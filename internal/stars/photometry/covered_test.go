package photometry

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
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

// In a crowded field stars merge, more or fewer of them from sub to sub; in a sparse one
// of that seeing none do.
func TestCrowdedStarsMerge(t *testing.T) {
	for count, want := range map[int]bool{190: true, 30: false} {
		z := &zeroPoints{}
		for k := range 8 {
			z.fields = append(z.fields, &stars.Field{Width: 640, Height: 480, Count: count, FWHM: stats.Known(9.4+0.05*float64(k), 0.05, 40)})
		}
		z.width = usualWidth(z.fields)
		if got := z.blurred(7); got != want {
			t.Errorf("%d stars: blurred %v, want %v", count, got, want)
		}
	}
}

// A satellite's track takes the stars beneath it out of a field of few stars: nothing
// is covered, and the light is even.
func TestTrackIsNoCover(t *testing.T) {
	const w, h = 640, 480
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 23))
		sky := simulated.NewSky(rng, 250, 30, w, h)
		var fields []*stars.Field
		for range 8 {
			f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
			f.FWHM = stats.Known(11, 0.1, 20)
			fields = append(fields, f)
		}
		track := stars.Streak{X0: 0, Y0: 60 * float64(seed), X1: w, Y1: 150 + 40*float64(seed), Width: 11.5}
		odd := fields[5]
		odd.Streaks = []stars.Streak{track}
		odd.Stars = slices.DeleteFunc(odd.Stars, func(s stars.Star) bool { return track.Distance(s.X, s.Y) < track.Width/2+odd.FWHM.V })
		odd.Count = len(odd.Stars)
		al, _ := registration.Align(fields)
		if got := Transparencies(fields, al, nil)[5]; !(got.Covered.V < 0.05) || !(got.Ratio.V > 0.96) {
			t.Errorf("seed %d: %v covered, %v of the light, uneven by %v", seed, got.Covered, got.Ratio, got.Unevenness)
		}
	}
}

// A tree over a part of the field takes that part's light, and a sub that it darkens
// has less noise there; frost takes a part of it. Dense and sparse fields. Of parts
// of a sixteenth, half a part is known at each end of what is covered: 0.06; with
// 45 stars bright enough, three standard deviations of as many draws.
func TestCoveredField(t *testing.T) {
	const w, h = 1200, 900
	for seed := range simulated.Draws(3) {
		for _, n := range []int{150, 1200} {
			for _, share := range []float64{0, 0.11, 0.25, 0.4, 0.63} {
				for _, passes := range []float64{0, 0.4} {
					rng := rand.New(rand.NewPCG(seed, 17))
					sky := simulated.NewSky(rng, n, 60, w, h)
					edge := share * w
					let := func(x, y float64) float64 {
						if x < edge {
							return passes
						}
						return 1
					}
					var fields []*stars.Field
					for range 7 {
						f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
						f.RandomNoise = stats.Known(10, 0.1, 1000)
						fields = append(fields, f)
					}
					odd := through(sky.View(rng, w, h, 5, 0, 0, 1, false, simulated.All), let)
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
					al, _ := registration.Align(fields)
					light := Transparencies(fields, al, nil)
					got, clear := light[7], light[0]
					tolerance := 0.06
					if n < 1000 {
						tolerance = max(0.15, 3*math.Sqrt(share*(1-share)/45))
					}
					want := 1 - share*(1-passes)
					if !(math.Abs(got.Ratio.V-want) <= tolerance) {
						t.Errorf("seed %d, %d stars, %v covered, %v passes: ratio %.3f, want %.3f", seed, len(fields[0].Stars), share, passes, got.Ratio.V, want)
					}
					if passes == 0 && math.Abs(got.Covered.V-share) > tolerance {
						t.Errorf("seed %d, %d stars, %v covered: %v", seed, len(fields[0].Stars), share, got.Covered)
					}
					if relative := got.Depth.V / clear.Depth.V; passes == 0 && math.Abs(relative-(1-share)) > 1.5*tolerance {
						t.Errorf("seed %d, %d stars, %v covered: depth %.3f of a clear one's", seed, len(fields[0].Stars), share, relative)
					}
					if !(clear.Covered.V < 0.02) || !(math.Abs(clear.Ratio.V-1) <= 0.03) {
						t.Errorf("seed %d: clear sub covered by %v, ratio %v", seed, clear.Covered, clear.Ratio)
					}
				}
			}
		}
	}
}

// Frost in patches of any place over nearly half of the field, on nearly half of the
// subs, dims what it does not hide and leaves some parts without a star that tells.
// Tolerance: three standard deviations of a share among the 60 stars that are bright
// enough, 0.19, of each and 0.06 of all.
func TestFrostedField(t *testing.T) {
	const w, h, opaque = 1200, 900, 0.45
	for seed := range simulated.Draws(4) {
		rng := rand.New(rand.NewPCG(seed, 23))
		sky := simulated.NewSky(rng, 220, 60, w, h)
		var fields []*stars.Field
		for k := range 20 {
			f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
			if k >= 12 {
				f = through(f, frost(rng, w, h, opaque))
			}
			f.RandomNoise = stats.Known(10, 0.1, 1000)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		var mean float64
		for k, got := range Transparencies(fields, al, nil) {
			want, tolerance := 1.0, 0.03
			if k >= 12 {
				want, tolerance = 1-opaque, 0.19
				mean += got.Ratio.V / 8
			}
			if !(math.Abs(got.Ratio.V-want) < tolerance) || !(math.Abs(got.Covered.V-(1-want)) < tolerance) {
				t.Errorf("seed %d, sub %d: ratio %.3f, covered %v, want %.2f", seed, k, got.Ratio.V, got.Covered, want)
			}
		}
		if !(math.Abs(mean-(1-opaque)) <= 0.06) {
			t.Errorf("seed %d: mean ratio of frosted subs %.3f", seed, mean)
		}
	}
}

// frost is what patches of so much opacity in the mean let through.
func frost(rng *rand.Rand, w, h, opaque float64) func(x, y float64) float64 {
	var waves [5][3]float64
	for k := range waves {
		waves[k] = [3]float64{1.5 * rng.NormFloat64() / w, 1.5 * rng.NormFloat64() / h, 2 * math.Pi * rng.Float64()}
	}
	let := func(x, y, edge float64) float64 {
		var sum float64
		for _, v := range waves {
			sum += math.Sin(2*math.Pi*(v[0]*x+v[1]*y) + v[2])
		}
		return 1 - 0.95/(1+math.Exp(-6*(sum-edge)))
	}
	lo, hi := -6.0, 6.0 // of the edge; the higher it is, the less is opaque
	for range 30 {
		edge, passes := (lo+hi)/2, 0.0
		for k := range 900 {
			passes += let(w*(float64(k%30)+0.5)/30, h*(float64(k/30)+0.5)/30, edge) / 900
		}
		if passes < 1-opaque {
			lo = edge
		} else {
			hi = edge
		}
	}
	return func(x, y float64) float64 { return let(x, y, lo) }
}
