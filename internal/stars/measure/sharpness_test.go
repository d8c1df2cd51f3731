package measure

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// Stars of one pixel's width with broad wings, on a colour mosaic whose measured
// pixels are 1.41 px apart, among hot pixels: the stars are kept, the hot pixels
// are not, and the field says what cannot be known of it.
func TestStarsSharperThanTheMosaic(t *testing.T) {
	for seed := range uint64(5) {
		s := simulated.NewSim(seed, 400, 400, 100)
		q := simulated.PSF{Fwhm: 1.1, Beta: 2}
		pos := s.Scatter(100, 18)
		for _, p := range pos {
			s.Star(p[0], p[1], s.Signal(80, 100, q), q)
		}
		data := s.Frame()
		for range len(data) / 1000 {
			data[s.Rng.IntN(len(data))] += float32(200 + 3000*s.Rng.Float64())
		}
		opt := simulated.Quiet()
		opt.Bayer = true
		f, err := Measure(data, 400, 400, opt)
		if err != nil {
			t.Fatal(err)
		}
		// 80 of the 160 hot pixels are green; a tenth of the stars have their
		// middle between four green pixels, where the peak lies low.
		if hit, extra := found(f, pos, 1.5); hit < 85 || extra > 8 {
			t.Errorf("seed %d: %d of %d stars, %d false", seed, hit, len(pos), extra)
		}
		if !(math.Abs(f.FWHM.V/q.Fwhm-1) < 0.06) {
			t.Errorf("seed %d: FWHM %v, want %g", seed, f.FWHM, q.Fwhm)
		}
		if notes := fmt.Sprint(f.Notes); !strings.Contains(notes, "hardly_wider(apart=green pixels") || !fact.Has(f.Notes, stars.PointsLeft) {
			t.Errorf("seed %d: notes %s", seed, notes)
		}
	}
}

func TestNoSharpnessNoteOnBroadStars(t *testing.T) {
	s := simulated.NewSim(1, 300, 300, 100)
	q := simulated.PSF{Fwhm: 3, Beta: 3}
	for _, p := range s.Scatter(30, 18) {
		s.Star(p[0], p[1], s.Signal(80, 100, q), q)
	}
	if f, err := Measure(s.Frame(), 300, 300, simulated.Quiet()); err != nil || len(f.Notes) > 0 {
		t.Errorf("notes %v, %v", f.Notes, err)
	}
}

// Stars of a pixel and a half of a mosaic, whose wings are as broad as the middle seems
// twice as wide, lie on a green pixel, between two or between four: whichever it is they
// are stars, and sub for sub the same ones.
func TestStarsBetweenGreenPixels(t *testing.T) {
	for k, fwhm := range []float64{1.45, 1.5, 1.55, 1.6} {
		const w, h, sky = 420, 420, 190
		s := simulated.NewSim(uint64(k)+60, w, h, sky)
		q := simulated.PSF{Fwhm: fwhm, Beta: 1.8}
		pos := s.Scatter(90, 22)
		for i, p := range pos {
			s.Star(p[0], p[1], s.Signal(25*math.Pow(1.06, float64(i)), sky, q), q)
		}
		opt := simulated.Quiet()
		opt.Bayer = true
		f, err := Measure(s.Frame(), w, h, opt)
		if err != nil {
			t.Fatal(err)
		}
		if hit, extra := found(f, pos, 1.5); hit < len(pos)-2 || extra > 3 || !(math.Abs(f.FWHM.V/fwhm-1) < 0.05) {
			t.Errorf("stars of %g px: %d of %d, %d false, FWHM %v", fwhm, hit, len(pos), extra, f.FWHM)
		}
	}
}
