package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// A bright nebula in one half of a field makes that half noisier; what is covered beside
// makes every part seem quieter than its lit pixels are. The depth is that of the lit
// pixels, of which each part's noise is known here: what is covered must not give the dark
// sky the nebula's noise. 25 %: dark pixels are taken to have no noise, and have a third, and the
// quietest parts to be the dark ones.
func TestDepthOfUnevenNoiseUnderLittleCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for _, dark := range []float64{0, 0.03, 0.07, 0.1} {
		l := light{covered: stats.Known(dark, 0.01, 60)}
		f := &stars.Field{RandomNoise: stats.Known(10, 0.1, 1)}
		want := 0.0
		for k := range stars.Parts * stars.Parts {
			lit := 10.0
			if k%stars.Parts < stars.Parts/2 {
				lit = 25
			}
			pixels := make([]float64, 4001)
			for i := range pixels {
				pixels[i] = lit * rng.NormFloat64()
				if rng.Float64() < dark {
					pixels[i] /= 3
				}
				pixels[i] = math.Abs(pixels[i])
			}
			f.NoiseParts = append(f.NoiseParts, stats.MADToSigma*stats.Median(pixels))
			l.part = append(l.part, partLight{known: true, lost: dark, ratio: 1})
			want += (1 - dark) / (lit * lit * float64(stars.Parts*stars.Parts))
		}
		if got := l.depth(1, f).V; !(math.Abs(got/want-1) <= 0.25) {
			t.Errorf("%.0f %% covered: depth %.3g, truth %.3g", 100*dark, got, want)
		}
	}
}
