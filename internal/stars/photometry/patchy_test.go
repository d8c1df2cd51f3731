package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// patchy is a cloud in patches that the wind carries: what it lets through at a place.
func patchy(depth, size, x, y, drift float64) float64 {
	wave := math.Sin((x-drift)/size) + math.Sin((y+0.4*x-0.7*drift)/size) + math.Sin((0.7*x-y+0.3*drift)/(0.6*size))
	return math.Exp(-depth * max(0, 1+0.6*wave))
}

// Half of a night lies under cloud in patches smaller than what few stars resolve, slow or
// fast: the light over the field is what comes through all of it, not through the gaps.
func TestPatchyCloudInSparseFields(t *testing.T) {
	const w, h = 900, 640
	for _, n := range []int{30, 60, 250} {
		for _, depth := range []float64{0.4, 1} {
			for _, wind := range []float64{30, 90} {
				var sum, count float64
				for seed := range uint64(3) {
					rng := rand.New(rand.NewPCG(seed, uint64(n)))
					sky := simulated.NewSky(rng, n, 0, w, h)
					var fields []*stars.Field
					var truth []float64
					for k := range 20 {
						f := sky.View(rng, w, h, 4*rng.NormFloat64(), 4*rng.NormFloat64(), 0, 1, false, simulated.All)
						let := func(x, y float64) float64 { return 1 }
						if k < 10 {
							let = func(x, y float64) float64 { return patchy(depth, 60, x, y, wind*float64(k)) }
						}
						var light float64
						for _, s := range f.Stars {
							light += let(s.X, s.Y) / float64(len(f.Stars))
						}
						truth = append(truth, light)
						fields = append(fields, through(f, let))
					}
					al, _ := registration.Align(fields)
					for k, got := range Transparencies(fields, al, nil) {
						if got.Ratio.OK() && k < 10 {
							sum, count = sum+got.Ratio.V/truth[k], count+1
						}
					}
				}
				// Few stars are a sample of the field, and the fainter ones are hidden first.
				if bias := sum/count - 1; !(math.Abs(bias) < 0.06+3/float64(n)) {
					t.Errorf("%d stars under a cloud of depth %g, wind %g: light %+.3f off", n, depth, wind, bias)
				}
			}
		}
	}
}

// What is known of a clouded sub does not hang on worse ones: without these its light and
// the error of that stay, to 0.01 together, so that a verdict does.
func TestWorseSubsGone(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 17))
		sky := simulated.NewSky(rng, 50, 0, w, h)
		var fields []*stars.Field
		for k := range 16 {
			f := sky.View(rng, w, h, 4*rng.NormFloat64(), 4*rng.NormFloat64(), 0, 1, false, simulated.All)
			switch {
			case k == 8:
				f = through(f, func(x, y float64) float64 { return 0.6 + 0.1*math.Sin(x/200) })
			case k > 8:
				f = through(f, func(x, y float64) float64 { return patchy(0.8, 60, x, y, 80*float64(k)) })
			}
			fields = append(fields, f)
		}
		sure := func(fields []*stars.Field) float64 {
			al, _ := registration.Align(fields)
			r := Transparencies(fields, al, nil)[8].Ratio
			return r.V + 2*r.Err
		}
		if all, without := sure(fields), sure(fields[:9]); !(math.Abs(all-without) < 0.01) {
			t.Errorf("seed %d: light %.3f at most, %.3f without worse subs", seed, all, without)
		}
	}
}
