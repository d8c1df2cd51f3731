package measure

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// Hot pixels without darks do not set the width of a colour sensor's stars, nor
// their light, sharp, soft or trailed: 5 %, the accuracy on green pixels alone.
func TestColourOnHotPixels(t *testing.T) {
	t.Parallel()
	for _, share := range []float64{0, 0.0003, 0.003, 0.02} {
		for _, fwhm := range []float64{2.2, 4, 7} {
			if testing.Short() && fwhm > 2.2 {
				break // narrow ones are the most like hot pixels
			}
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

// Up to one pixel in fifty hot, as of a warm sensor without darks, is a dozen points of
// light to a star, or a thousand to one of a few: their width is that of the stars all
// the same, to a tenth, since a hot pixel beside most stars adds to them, or to three
// of the errors stated where few stars tell it, and of these most are found. Stars as
// narrow as hot pixels stay as narrow, and with them some of the hot pixels.
func TestHotPixelsDoNotSetTheWidth(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		fwhm  float64
		stars int
		hot   float64
	}{{1.2, 120, 0.02}, {5, 120, 0.02}, {2, 30, 0.02}, {4, 30, 0.02}, {1.4, 25, 0.01}, {1.4, 6, 0.002}, {2, 6, 0.02}, {2.8, 6, 0.02}, {4.5, 6, 0.005}, {4.5, 6, 0.02}, {5, 14, 0.02}, {4, 31, 0.02}, {5.5, 32, 0.02}} {
		if testing.Short() && (c.stars > 100 || c.fwhm > 2.5) {
			continue
		}
		for _, mosaic := range []bool{false, true} {
			const w, h, sky = 480, 400, 80
			fwhm := c.fwhm
			s := simulated.NewSim(uint64(100*fwhm)+uint64(c.stars), w, h, sky)
			q := simulated.PSF{Fwhm: fwhm, Beta: 3}
			var truth [][2]float64
			for i, at := range s.Scatter(c.stars, 9) {
				snr := 8 + 300/float64(i+1)
				switch {
				case c.stars > 30 && c.stars < 40: // faint ones alone
					snr = 12 + 20*float64(i)/float64(c.stars)
				case c.stars < 20:
					snr = 15 * math.Pow(10, float64(i)/float64(c.stars))
				}
				s.Star(at[0], at[1], 1.6*s.Signal(snr, sky, q), q)
				truth = append(truth, at)
			}
			for range int(c.hot * w * h) {
				s.E[s.Rng.IntN(w*h)] += 80 * math.Pow(s.Rng.Float64(), -1)
			}
			opt := simulated.Quiet()
			opt.Bayer = mosaic
			f, err := Measure(s.Frame(), w, h, opt)
			if err != nil {
				t.Fatal(err)
			}
			said := slices.ContainsFunc(f.Notes, func(n fact.Fact) bool { return n.Code == stars.TakenForHot })
			if told := c.stars > 100 && fwhm < 2; c.stars == 31 && !said || told && said {
				t.Errorf("%d stars of %v px, mosaic %v: that points were taken for hot pixels is said: %v", c.stars, fwhm, mosaic, said)
			}
			hit, extra := found(f, truth, 2)
			most := 2 + c.stars/8
			if fwhm < 1.5 {
				most += int(c.hot * w * h / 80)
			}
			if off := math.Abs(f.FWHM.V - fwhm); !(off < max(0.1*fwhm, 3*f.FWHM.Err)) || f.FWHM.Err > fwhm/2+0.1 || 3*hit < 2*c.stars || extra > most {
				t.Errorf("%d stars of %v px, mosaic %v, %v hot: FWHM %v ± %v, %d stars found, %d false ones", c.stars, fwhm, mosaic, c.hot, f.FWHM.V, f.FWHM.Err, hit, extra)
			}
		}
	}
}
