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
	for _, share := range []float64{0, 0.0003, 0.003, 0.02} {
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

// One pixel in fifty hot, as of a warm sensor without darks, is a dozen points of
// light to a star, or fifty to one of a few: their width is that of the stars all the
// same, to a tenth, since a hot pixel beside most stars adds to them. Stars as narrow
// as hot pixels stay as narrow.
func TestHotPixelsDoNotSetTheWidth(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		fwhm  float64
		stars int
	}{{1.2, 120}, {3, 120}, {5, 120}, {2, 30}, {4, 30}} {
		for _, mosaic := range []bool{false, true} {
			const w, h, sky = 340, 300, 200
			fwhm := c.fwhm
			s := simulated.NewSim(uint64(100*fwhm), w, h, sky)
			q := simulated.PSF{Fwhm: fwhm, Beta: 3}
			for i, at := range s.Scatter(c.stars, 9) {
				s.Star(at[0], at[1], 1.6*s.Signal(8+300/float64(i+1), sky, q), q)
			}
			for range w * h / 50 {
				s.E[s.Rng.IntN(w*h)] += 150 * math.Pow(s.Rng.Float64(), -1)
			}
			opt := simulated.Quiet()
			opt.Bayer = mosaic
			f, err := Measure(s.Frame(), w, h, opt)
			if err != nil {
				t.Fatal(err)
			}
			if !(math.Abs(f.FWHM.V/fwhm-1) < 0.1) {
				t.Errorf("%d stars of %v px, mosaic %v: FWHM %v, %d stars", c.stars, fwhm, mosaic, f.FWHM, f.Count)
			}
		}
	}
}
