package sensor

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
)

// A strip of overscan that no header declares holds nothing but noise about zero in a
// master flat; a corner of little light and a deep dust shadow keep theirs. What has light
// is divided by its own mean, however wide the strip: else the subs' light would come out
// low by the strip's share of the frame.
func TestPixelsOfFlatsWithoutLight(t *testing.T) {
	const w, h = 120, 80
	for _, c := range []struct {
		pattern string
		strip   int
	}{{"", 12}, {"RGGB", 12}, {"", 2}, {"", 60}, {"GBRG", 100}} {
		pattern, strip := c.pattern, c.strip
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
		var light float64
		for _, v := range pixels {
			light += float64(v)
		}
		if mean := light / float64((w-strip)*h); !(math.Abs(mean-1) <= 1e-5) { // single precision
			t.Errorf("pattern %q, strip of %d px: the mean of what has light is %.5f, want 1", pattern, strip, mean)
		}
		if got, want := unlitShare(pixels), float64(strip)/w; !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("pattern %q: %g of the pixels have no light, want %g", pattern, got, want)
		}
	}
}
