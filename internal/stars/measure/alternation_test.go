package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
)

// Rows (or columns) that alternate in a sub, in several strengths, with stars and a
// slope of the sky; and none where nothing alternates or the sub is a mosaic.
func TestAlternateRowsOfASub(t *testing.T) {
	const w, h, noise = 320, 256, 10.0
	for _, by := range []float64{0, 1, 4, 20, -20} { // ADU
		for _, columns := range []bool{false, true} {
			rng := rand.New(rand.NewPCG(uint64(100+by), 4))
			data := make([]float32, w*h)
			for i := range data {
				x, y := i%w, i/w
				line := y
				if columns {
					line = x
				}
				data[i] = float32(500 + 0.3*float64(x) + by*float64(line%2) + noise*rng.NormFloat64())
			}
			for range 60 {
				cx, cy, peak := float64(w)*rng.Float64(), float64(h)*rng.Float64(), 5000*rng.Float64()
				for j := max(0, int(cy)-8); j < min(h, int(cy)+9); j++ {
					for i := max(0, int(cx)-8); i < min(w, int(cx)+9); i++ {
						data[j*w+i] += float32(peak * math.Exp(-(math.Pow(float64(i)-cx, 2)+math.Pow(float64(j)-cy, 2))/4.5))
					}
				}
			}
			for _, mosaic := range []bool{false, true} {
				opt := stars.DefaultOptions
				opt.Bayer = mosaic
				var ms Measurer
				f, err := ms.Measure(append([]float32{}, data...), w, h, opt)
				if err != nil {
					t.Fatal(err)
				}
				got, other := f.OddRows, f.OddColumns
				if columns {
					got, other = other, got
				}
				switch {
				case mosaic && (got.OK() || other.OK()):
					t.Errorf("mosaic: %+v, %+v", got, other)
				case mosaic:
				// Within four errors, which are a hundredth of the noise.
				case math.Abs(got.V-by) > 4*got.Err || got.Err > 0.03*noise || math.Abs(other.V) > 4*other.Err:
					t.Errorf("alternating by %g: %v ± %v, across %v ± %v", by, got.V, got.Err, other.V, other.Err)
				}
			}
		}
	}
}
