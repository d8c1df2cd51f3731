package plane

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// What interpolation smears over neighbours is not gone: however far a picture was
// moved, between blocks of pixels its noise stays within what bilinear weights leave of
// it (0.86 of it in the worst case, see RandomNoise), where from pixel to pixel a sixth does.
func TestNoiseOfInterpolatedPictures(t *testing.T) {
	const w, h, sky = 400, 300, 900
	s := simulated.NewSim(4, w, h, sky)
	raw := s.Frame()
	sigma := math.Sqrt(sky + 9) // and the read noise of 3
	for _, move := range []float64{0, 0.1, 0.3, 0.5} {
		p := &Plane{W: w, H: h, R: make([]float32, w*h), Green: -1, Smeared: true}
		for y := range h {
			for x := range w {
				a, b, v := raw[y*w+x], raw[y*w+min(x+1, w-1)], float32(move)
				c, d := raw[min(y+1, h-1)*w+x], raw[min(y+1, h-1)*w+min(x+1, w-1)]
				p.R[y*w+x] = (1-v)*((1-v)*a+v*b) + v*((1-v)*c+v*d) - sky
			}
		}
		got, parts := p.RandomNoise(2, 0)
		// 3 %: of some 3000 answers, which overlap
		if r := got.V / sigma; !(r > 0.86-0.03 && r < 1.03) {
			t.Errorf("moved by %g px: noise %.3f of what it was", move, r)
		}
		if len(parts) != 4 || !(parts[0] > 0.75*sigma) {
			t.Errorf("parts %v", parts)
		}
		p.Smeared = false
		if plain, _ := p.RandomNoise(2, 0); move == 0.5 && !(plain.V < 0.25*sigma) {
			t.Errorf("from pixel to pixel %.3f", plain.V/sigma)
		}
	}
}
