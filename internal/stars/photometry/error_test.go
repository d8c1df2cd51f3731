package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// The error of a transparency is what it is off by, where the stars scatter by their noise
// alone and where they scatter by more from field to field.
func TestTransparencyErrors(t *testing.T) {
	const w, h = 900, 640
	for _, scatter := range []float64{0, 0.01, 0.02} {
		for _, n := range []int{60, 250} {
			var pulls []float64
			for seed := range uint64(8) {
				rng := rand.New(rand.NewPCG(seed, uint64(n)))
				sky := simulated.NewSky(rng, n, 0, w, h)
				var fields []*stars.Field
				var light []float64
				for range 10 {
					light = append(light, 0.7+0.3*rng.Float64())
					f := sky.View(rng, w, h, 4*rng.NormFloat64(), 4*rng.NormFloat64(), 0, light[len(light)-1], false, simulated.All)
					for i := range f.Stars {
						st := &f.Stars[i] // the photons' noise is in its error alone so far
						st.Flux = st.Flux*math.Exp(scatter*rng.NormFloat64()) + math.Sqrt(st.Flux)*rng.NormFloat64()
					}
					fields = append(fields, f)
				}
				al, _ := registration.Align(fields)
				var off, errs []float64
				for i, got := range Transparencies(fields, al, nil) {
					off, errs = append(off, math.Log(got.Ratio.V/light[i])), append(errs, got.Ratio.Err/got.Ratio.V)
				}
				mean := stats.Mean(off)
				for i := range off { // of ten, the mean goes with each by a tenth
					pulls = append(pulls, (off[i]-mean)/errs[i]/math.Sqrt(0.9))
				}
			}
			var sum float64
			for _, z := range pulls {
				sum += z * z
			}
			rms := math.Sqrt(sum / float64(len(pulls)))
			t.Logf("%d stars that scatter by %g: rms of z %.2f", n, scatter, rms)
			// 80 pulls scatter by 0.08; the errors of few stars themselves by a tenth, and the
			// median's is 1.25 times the mean's only where stars are alike.
			if !(rms > 0.7 && rms < 1.35) {
				t.Errorf("%d stars that scatter by %g: rms of z %.2f", n, scatter, rms)
			}
		}
	}
}
