package measure

import (
	"fmt"
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// Hot pixels without darks do not set the width of a colour sensor's stars, nor
// their light, sharp, soft or trailed: 5 %, the accuracy on green pixels alone.
func TestColourOnHotPixels(t *testing.T) {
	t.Parallel()
	for _, share := range []float64{0, 0.0003, 0.001, 0.003} {
		for _, fwhm := range []float64{2.2, 4, 7} {
			t.Run(fmt.Sprintf("%v %% hot, stars of %v px", 100*share, fwhm), func(t *testing.T) {
				const w, h, sky = 600, 500, 150
				s := simulated.NewSim(uint64(1000*share+fwhm), w, h, sky)
				q := simulated.PSF{Fwhm: fwhm}
				var truth [][2]float64
				for i, at := range s.Scatter(60, 4*fwhm) {
					s.Spot(at[0], at[1], s.Signal(25+3*float64(i), sky, q), fwhm)
					truth = append(truth, at)
				}
				for range int(share * w * h) {
					s.E[s.Rng.IntN(w*h)] += 150 * math.Pow(s.Rng.Float64(), -1.2)
				}
				data := s.Frame()
				for i, v := range data {
					data[i] = min(v, 60000)
				}
				opt := simulated.Quiet()
				opt.Bayer, opt.Saturation = true, 60000
				f, err := Measure(data, w, h, opt)
				if err != nil {
					t.Fatal(err)
				}
				hit, extra := found(f, truth, 2)
				if !(math.Abs(f.FWHM.V/fwhm-1) < 0.05) || hit < 54 || extra > 6+int(share*w*h)/100 {
					t.Errorf("FWHM %v, %d of %d stars, %d false ones", f.FWHM, hit, len(truth), extra)
				}
			})
		}
	}
}
