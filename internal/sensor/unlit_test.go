package sensor

import (
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
)

// A strip of overscan that no header declares holds nothing but noise about zero in a
// master flat; a corner of little light and a deep dust shadow keep theirs.
func TestPixelsOfFlatsWithoutLight(t *testing.T) {
	const w, h, strip = 120, 80, 12
	for _, pattern := range []string{"", "RGGB"} {
		rng := rand.New(rand.NewPCG(3, 7))
		g := &frames.Group{Width: w, Height: h, Frames: []*frames.Frame{{Meta: frames.Meta{Bayer: pattern}}}}
		pixels := make([]float32, w*h)
		for i := range pixels {
			level := 20000.0
			switch x, y := i%w, i/w; {
			case x >= w-strip:
				level = 0
			case x < 8 && y < 8:
				level = 2000 // a corner that lost nine tenths
			case x > 40 && x < 50 && y > 40 && y < 50:
				level = 12000
			}
			pixels[i] = float32(level + 3*rng.NormFloat64())
		}
		Normalise(pixels, g)
		for i, v := range pixels {
			if dark := i%w >= w-strip; dark != (v == 0) {
				t.Fatalf("pattern %q: pixel %d,%d of %g, without light: %v", pattern, i%w, i/w, v, dark)
			}
		}
		if got, want := unlitShare(pixels), float64(strip)/w; got != want {
			t.Errorf("pattern %q: %g of the pixels have no light, want %g", pattern, got, want)
		}
	}
}
