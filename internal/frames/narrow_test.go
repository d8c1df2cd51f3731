package frames

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Narrow stars are counted beside blank pixels, of which nothing is known: they are no
// bright ones that stand alone, of which many hide the stars.
func TestNarrowStarsAmongBlankPixels(t *testing.T) {
	const w, h, sigma, stars = 400, 300, 10.0, 12
	rng := rand.New(rand.NewPCG(8, 2))
	px := make([]float32, w*h)
	for i := range px {
		px[i] = float32(1000 + sigma*rng.NormFloat64())
	}
	for k := range stars {
		x, y := 30+30*k, 150
		for j := -2; j <= 2; j++ {
			for i := -2; i <= 2; i++ {
				px[(y+j)*w+x+i] += float32(2000 * math.Exp(-float64(i*i+j*j)/(2*0.6*0.6)))
			}
		}
	}
	for range 4000 { // blank ones, none of them within three pixels of a star
		x, y := rng.IntN(w), rng.IntN(h)
		if y < 140 || y > 160 {
			px[y*w+x] = float32(math.NaN())
		}
	}
	s := lookSums{cols: w, whole: [][]float32{px}}
	if got := s.narrowStars(sigma); got != stars {
		t.Errorf("%d stars, want %d", got, stars)
	}
}
