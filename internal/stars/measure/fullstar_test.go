package measure

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// One bright star that fills its pixels where nothing tells that they are full comes out
// wide. The light of the others, which the filter tells on the scale of fitted stars, is
// not put on its scale.
func TestOneFullStarDoesNotSetTheScale(t *testing.T) {
	q := simulated.PSF{Fwhm: 2.8, Beta: 3.5}
	for _, bayer := range []bool{false, true} {
		var light, sure [2]float64
		for k, full := range []float64{math.Inf(1), 16000} {
			s := simulated.NewSim(5, 360, 300, 2500)
			spots := s.Scatter(16, 34)
			if len(spots) < 12 {
				t.Fatal("too few stars")
			}
			for i, at := range spots {
				flux := 2500 + 250*float64(i)
				if i == 0 {
					flux = 3e5
				}
				s.Star(at[0], at[1], flux, q)
			}
			frame := s.Frame()
			for i, e := range frame {
				frame[i] = float32((math.Min(float64(e), full) + 1.5*s.Rng.NormFloat64()) * (1 + 0.05*float64(i%s.W)/float64(s.W)) * (1 + 0.006*s.Rng.NormFloat64()))
			}
			opt := simulated.Quiet()
			opt.Bayer, opt.Saturation = bayer, math.Inf(1)
			f, err := Measure(frame, s.W, s.H, opt)
			if err != nil {
				t.Fatal(err)
			}
			var ratio []float64
			for i, at := range spots[1:] {
				for _, st := range f.Stars {
					if math.Hypot(st.X-at[0], st.Y-at[1]) < 1.5 {
						ratio = append(ratio, st.Flux/(2750+250*float64(i)))
					}
				}
			}
			light[k], sure[k] = stats.Median(ratio), f.FilterErr
			t.Logf("mosaic %v, full at %.0f: FWHM %v, %d stars, light %.3f ± %.3f of the truth", bayer, full, f.FWHM, len(ratio), light[k], f.FilterErr)
			if len(ratio) < 10 {
				t.Errorf("%d stars found", len(ratio))
			}
		}
		// The noise of the stars is the same in both; 2 % more for what the wider filter makes of them.
		if r := light[1] / light[0]; !(math.Abs(r-1) <= 0.02+2*math.Hypot(sure[0], sure[1])) {
			t.Errorf("mosaic %v: the light is %.3f of what it is without the full star", bayer, r)
		}
	}
}
