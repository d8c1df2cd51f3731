package measure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// cropped takes up to seven rows and columns off each side: the colours of a mosaic
// change places.
func cropped(rng *rand.Rand, data []float32, w, h int) ([]float32, int, int) {
	left, right, low, high := rng.IntN(8), rng.IntN(8), rng.IntN(8), rng.IntN(8)
	cw, ch := w-left-right, h-low-high
	out := make([]float32, 0, cw*ch)
	for y := low; y < low+ch; y++ {
		out = append(out, data[y*w+left:][:cw]...)
	}
	return out, cw, ch
}

// checkCrops measures a frame and crops of it. Nearly the same pixels are in all:
// the widths agree to their errors, of which two, and to 2 %, what a few other stars
// among the fitted ones make; and as many stars are found, but for a twentieth.
// Short runs try one crop.
func checkCrops(t *testing.T, data []float32, w, h, crops int, opt stars.Options) {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, 8))
	whole, err := Measure(append([]float32(nil), data...), w, h, opt)
	if err != nil {
		t.Fatal(err)
	}
	if testing.Short() {
		crops = 1
	}
	for range crops {
		piece, cw, ch := cropped(rng, data, w, h)
		f, err := Measure(piece, cw, ch, opt)
		if err != nil {
			t.Fatal(err)
		}
		n, all := float64(f.Count), float64(whole.Count)*float64(cw*ch)/float64(w*h)
		if !(math.Abs(f.FWHM.V-whole.FWHM.V) < max(2*math.Hypot(f.FWHM.Err, whole.FWHM.Err), 0.02*whole.FWHM.V)) ||
			math.Abs(n-all) > 3+0.05*all {
			t.Errorf("crop of %d x %d: FWHM %v, %d stars; whole frame %v, %d", cw, ch, f.FWHM, f.Count, whole.FWHM, whole.Count)
		}
	}
}

// A frame and its crops by a few pixels show the same stars, sharp or not, with hot
// pixels or without.
func TestCropsAgree(t *testing.T) {
	t.Parallel()
	for _, fwhm := range []float64{1.1, 1.4, 1.7, 2.2, 3.2} {
		for _, hot := range []float64{0, 0.0005, 0.002} {
			if testing.Short() && (hot > 0 && fwhm > 1.4 || fwhm > 1.4 && fwhm < 3) {
				continue
			}
			t.Run(fmt.Sprintf("stars of %v px, %v hot", fwhm, hot), func(t *testing.T) {
				const w, h, sky = 420, 360, 200
				s := simulated.NewSim(uint64(10*fwhm), w, h, sky)
				q := simulated.PSF{Fwhm: fwhm, Beta: 3}
				for i, at := range s.Scatter(150, 8) {
					s.Star(at[0], at[1], s.Signal(8+600/float64(i+1), sky, q), q)
				}
				for range int(hot * w * h) {
					s.E[s.Rng.IntN(w*h)] += 150 * math.Pow(s.Rng.Float64(), -1)
				}
				checkCrops(t, s.Frame(), w, h, 4, simulated.Quiet())
			})
		}
	}
}

// Likewise of real frames.
func TestCropsOfRealFramesAgree(t *testing.T) {
	if testing.Short() {
		t.Skip("real frames of thousands of stars; those above are drawn")
	}
	t.Parallel()
	for _, c := range []struct {
		folder, name string
		crops        int
	}{{"field-a", "sub_0001.fits.gz", 1}, {"field-a", "sub_0089.fits.gz", 1}, {"mosaic", "sub_1.fits.gz", 2}, {"mosaic", "sub_2.fits.gz", 1}} {
		t.Run(c.name, func(t *testing.T) {
			im := readFrame(t, c.folder, c.name)
			opt := stars.DefaultOptions
			opt.Bayer = c.folder == "mosaic"
			checkCrops(t, im.Float32(0, nil), im.Width, im.Height, c.crops, opt)
		})
	}
}
