package stars

import (
	"math"
	"strings"
	"testing"
)

// Stars of one pixel's width with broad wings, on a colour mosaic whose measured
// pixels are 1.41 px apart, among hot pixels: the stars are kept, the hot pixels
// are not, and the field says what cannot be known of it.
func TestStarsSharperThanTheMosaic(t *testing.T) {
	for seed := range uint64(5) {
		s := newSim(seed, 400, 400, 100)
		q := psf{fwhm: 1.1, beta: 2}
		pos := s.scatter(100, 18)
		for _, p := range pos {
			s.star(p[0], p[1], s.signal(80, 100, q), q)
		}
		data := s.frame()
		for range len(data) / 1000 {
			data[s.rng.IntN(len(data))] += float32(200 + 3000*s.rng.Float64())
		}
		opt := quiet()
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
		if !(math.Abs(f.FWHM.V/q.fwhm-1) < 0.06) {
			t.Errorf("seed %d: FWHM %v, want %g", seed, f.FWHM, q.fwhm)
		}
		if notes := strings.Join(f.Notes, "; "); !strings.Contains(notes, "hardly wider than the green pixels") || !strings.Contains(notes, "left out as hot pixels") {
			t.Errorf("seed %d: notes %q", seed, notes)
		}
	}
}

func TestNoSharpnessNoteOnBroadStars(t *testing.T) {
	s := newSim(1, 300, 300, 100)
	q := psf{fwhm: 3, beta: 3}
	for _, p := range s.scatter(30, 18) {
		s.star(p[0], p[1], s.signal(80, 100, q), q)
	}
	if f, err := Measure(s.frame(), 300, 300, quiet()); err != nil || len(f.Notes) > 0 {
		t.Errorf("notes %q, %v", f.Notes, err)
	}
}
