package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// The noise that was put in comes out, whatever faint stars, nebula and
// gradient lie under it; the scatter of the background alone would not give it.
func TestRandomNoiseAmongFaintStars(t *testing.T) {
	const w, h, sigma = 640, 480, 12.0
	for _, c := range []struct {
		name  string
		faint int // stars under the threshold
		bayer bool
		allow float64 // relative
	}{
		{"empty", 0, false, 0.01}, // 0.4 % of sampling error, seen at up to 2.5 sigma
		{"crowded", 6000, false, 0.02},
		{"mosaic", 0, true, 0.015}, // half of the samples
	} {
		rng := rand.New(rand.NewPCG(1, uint64(c.faint)))
		data := make([]float32, w*h)
		for y := range h {
			for x := range w {
				data[y*w+x] = float32(800 + 0.2*float64(x) + 90*math.Exp(-(math.Pow(float64(x-300), 2)+math.Pow(float64(y-200), 2))/2e4) + sigma*rng.NormFloat64())
			}
		}
		for range c.faint {
			x, y, flux := 10+(w-20)*rng.Float64(), 10+(h-20)*rng.Float64(), 60+300*rng.Float64()
			const s2 = 1.6 * 1.6
			for j := int(y) - 6; j <= int(y)+6; j++ {
				for i := int(x) - 6; i <= int(x)+6; i++ {
					data[j*w+i] += float32(flux / (2 * math.Pi * s2) * math.Exp(-(math.Pow(float64(i)-x, 2)+math.Pow(float64(j)-y, 2))/2/s2))
				}
			}
		}
		opt := stars.DefaultOptions
		opt.Bayer = c.bayer
		f, err := Measure(data, w, h, opt)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: true %.2f, random %.3f ± %.3f, background %.3f", c.name, sigma, f.RandomNoise.V, f.RandomNoise.Err, f.Noise.V)
		if !(math.Abs(f.RandomNoise.V/sigma-1) <= c.allow) {
			t.Errorf("%s: %.3f, put in %.1f", c.name, f.RandomNoise.V, sigma)
		}
	}
	tiny, err := Measure(make([]float32, 20*20), 20, 20, stars.DefaultOptions)
	if err != nil || tiny.RandomNoise.OK() && tiny.RandomNoise.V > 0 {
		t.Errorf("a constant frame: %+v, %v", tiny.RandomNoise, err)
	}
}
