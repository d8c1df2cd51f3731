package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
)

// Sky whose noise is far under a step of the converter: its samples are all alike,
// or differ in few pixels. The noise is the limit of EMVA 1288 (0.49 steps,
// quantisation included; from memory), without an error, and the stars are those
// that are there, not the places where a sample is one step higher.
func TestNoiseUnderAStep(t *testing.T) {
	const w, h, n = 384, 256, 40
	for _, step := range []float64{1, 16} {
		for _, share := range []float64{0.05, 0.15, 0.3, 1} { // of a step
			for _, level := range []float64{0, 0.25} { // above a step
				s := simulated.NewSim(3, w, h, 0)
				for _, at := range s.Scatter(n, 20) {
					s.Spot(at[0], at[1], 300*step*math.Pow(30, s.Rng.Float64()), 3)
				}
				data := make([]float32, len(s.E))
				for i, e := range s.E {
					data[i] = float32(step * math.Round(50+level+e/step+share*s.Rng.NormFloat64()))
				}
				o := stars.DefaultOptions
				o.Step = step
				f, err := Measure(data, w, h, o)
				if err != nil {
					t.Fatal(err)
				}
				got, limit := f.RandomNoise.V/step, math.Sqrt(0.24)
				if share < 0.3 && !(got == limit && math.IsNaN(f.RandomNoise.Err)) {
					t.Errorf("%g of a step of %g at %g: noise %v ± %v", share, step, level, got, f.RandomNoise.Err)
				}
				// Sheppard's correction; 0.4 % of sampling error.
				if want := math.Hypot(1, math.Sqrt(1./12)); share == 1 && !(math.Abs(got/want-1) < 0.02) {
					t.Errorf("noise of a step: %v, want %v", got, want)
				}
				most := n + 1
				if share == 0.3 {
					most = n * 5 / 4 // pixels a step up are one in five: several together pass for faint stars
				}
				if f.Count < n-1 || f.Count > most {
					t.Errorf("%g of a step of %g at %g: %d stars of %d", share, step, level, f.Count, n)
				}
			}
		}
	}
}

// Samples rounded to steps of half the noise to ten times it, the sky anywhere between two of
// them, take no light from stars: transparencies are right within three errors, and
// within 0.03 where the noise is not hidden.
func TestTransparencyOfRoundedSamples(t *testing.T) {
	t.Parallel()
	const side, sky, n = 260, 300, 60
	for _, share := range []float64{0.5, 1.5, 10} {
		place := simulated.NewSim(n, side, side, 0)
		at := place.Scatter(n, 14)
		flux := make([]float64, len(at))
		for i := range flux {
			flux[i] = 2000 / math.Pow(1-place.Rng.Float64(), 0.9)
		}
		light, widths := []float64{1, 1, 1, 0.7, 1, 0.5}, []float64{3, 2.5, 4, 3.1, 4.2, 3}
		step := share * math.Sqrt(sky+9)
		var fields []*stars.Field
		for k := range widths {
			s := simulated.NewSim(50+uint64(k), side, side, sky+float64(k)*step/6)
			for i, p := range at {
				s.Spot(p[0]+float64(k), p[1]-float64(k)/2, light[k]*flux[i], widths[k])
			}
			data := s.Frame()
			for i, v := range data {
				data[i] = float32(step * math.Round(float64(v)/step))
			}
			o := simulated.Quiet()
			o.Step = step
			f, err := Measure(data, side, side, o)
			if err != nil {
				t.Fatal(err)
			}
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, l := range photometry.Transparencies(fields, al, nil) {
			off := math.Abs(l.Ratio.V - light[k])
			if !(off < 3*l.Ratio.Err) || share < 2 && off > 0.03 {
				t.Errorf("steps of %g times the noise, %g px: transparency %v, want %g", share, widths[k], l.Ratio, light[k])
			}
		}
	}
}
