package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// starsOn draws noise of sd 10 on a level of 500 with Gaussian stars of 3 px.
func starsOn(rng *rand.Rand, w, h int, list []stars.Star) []float32 {
	data := make([]float32, w*h)
	for i := range data {
		data[i] = float32(500 + 10*rng.NormFloat64())
	}
	const sd = 3 / stars.SigmaToFWHM
	for _, s := range list {
		for y := max(0, int(s.Y)-8); y < min(h, int(s.Y)+9); y++ {
			for x := max(0, int(s.X)-8); x < min(w, int(s.X)+9); x++ {
				r2 := (float64(x)-s.X)*(float64(x)-s.X) + (float64(y)-s.Y)*(float64(y)-s.Y)
				data[y*w+x] += float32(s.Flux / (2 * math.Pi * sd * sd) * math.Exp(-r2/(2*sd*sd)))
			}
		}
	}
	return data
}

// Five stars of three to four times their noise each are found together, where they
// are, and with the light that they have; noise alone, another bright star or a field
// pointed elsewhere show none of them.
func TestSeek(t *testing.T) {
	const w, h, dx, dy, dim = 320, 240, 7.4, -4.3, 0.35
	expected := []stars.Star{{X: 60, Y: 50, Flux: 700}, {X: 250, Y: 60, Flux: 640}, {X: 150, Y: 120, Flux: 600}, {X: 80, Y: 190, Flux: 560}, {X: 240, Y: 180, Flux: 600}}
	opt := stars.DefaultOptions
	var ms Measurer
	var got, want, sigma float64
	found := 0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 17))
		var there []stars.Star
		for _, s := range expected {
			there = append(there, stars.Star{X: s.X + dx, Y: s.Y + dy, Flux: dim * s.Flux})
		}
		s := ms.Seek(starsOn(rng, w, h, there), w, h, opt, expected, 3, 20)
		if s.Found {
			found++
			if math.Hypot(s.DX-dx, s.DY-dy) > 1.5 {
				t.Errorf("seed %d: found at %.1f, %.1f", seed, s.DX, s.DY)
			}
			for i := range s.Flux {
				got, want, sigma = got+s.Flux[i], want+there[i].Flux, math.Hypot(sigma, s.Err[i])
			}
		}
		if s := ms.Seek(starsOn(rng, w, h, nil), w, h, opt, expected, 3, 20); s.Found || !(s.Most < 0.6) {
			t.Errorf("seed %d: of noise %v found, %.2f of their light at most", seed, s.Found, s.Most)
		}
		other := []stars.Star{{X: 150, Y: 110, Flux: 20000}}
		if s := ms.Seek(starsOn(rng, w, h, other), w, h, opt, expected, 3, 20); s.Found {
			t.Errorf("seed %d: one star is taken for five", seed)
		}
	}
	// An aperture of one FWHM holds 15/16 of a Gaussian's light; the best of some shifts
	// has half a standard error more than the true one, of each field.
	if found < 8 || !(math.Abs(got-want*15/16) < 3*sigma+0.5*sigma*math.Sqrt(float64(found))) {
		t.Errorf("%d of 12 found, with light %.0f ± %.0f, want %.0f", found, got, sigma, want*15/16)
	}
}
