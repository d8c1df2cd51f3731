package frames

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestShrink(t *testing.T) {
	nan := float32(math.NaN())
	for _, tc := range []struct {
		what     string
		pixels   []float32
		w, h     int
		maxWidth int
		mosaic   bool
		step     int
		want     []float32
	}{
		{"whole", []float32{1, 2, 3, 4}, 2, 2, 10, false, 1, []float32{1, 2, 3, 4}},
		{"halved", []float32{1, 3, 5, 7, 1, 3, 5, 7}, 4, 2, 2, false, 2, []float32{2, 6}},
		{"one block", []float32{1, 2, 3, 4}, 2, 2, 1, false, 2, []float32{2.5}},
		{"rest left out", []float32{1, 2, 99, 3, 4, 99, 99, 99, 99}, 3, 3, 2, false, 2, []float32{2.5}},
		{"mosaic makes the step even", make([]float32, 36), 6, 6, 2, true, 4, []float32{0}},
		{"NaN does not count", []float32{1, nan, 3, 5}, 2, 2, 1, false, 2, []float32{3}},
		{"nothing but NaN", []float32{nan, nan, nan, nan}, 2, 2, 1, false, 2, []float32{nan}},
		{"one pixel", []float32{7}, 1, 1, 5, true, 1, []float32{7}},
		{"flat strip", []float32{1, 2, 3, 4}, 4, 1, 2, false, 1, []float32{1, 2, 3, 4}},
	} {
		p := Shrink(tc.pixels, tc.w, tc.h, tc.maxWidth, tc.mosaic)
		if p.Step != tc.step || p.Width*p.Height != len(p.Pixels) {
			t.Errorf("%s: step %d, %d x %d of %d", tc.what, p.Step, p.Width, p.Height, len(p.Pixels))
		}
		sameFloats(t, p.Pixels, tc.want)
	}
}

// Rows are taken four at a time where none has NaN, and in strips of any height: it must
// be the mean of a block one pixel after another.
func TestShrinkerTakesRowsInAnyStrips(t *testing.T) {
	const w, h = 43, 67
	for _, share := range []float64{0, 0.002, 0.5} {
		rng := rand.New(rand.NewPCG(1, 2))
		pixels := make([]float32, w*h)
		for i := range pixels {
			if pixels[i] = float32(rng.NormFloat64()); rng.Float64() < share {
				pixels[i] = float32(math.NaN())
			}
		}
		for _, width := range []int{43, 14, 8, 4, 1} {
			s := NewShrinker(w, h, width, false)
			for y := 0; y < h; {
				n := min(1+rng.IntN(13), h-y)
				s.Add(pixels[y*w:][:n*w])
				y += n
			}
			p := s.Preview
			for k, got := range p.Pixels {
				var sum, n float64
				for i := range p.Step * p.Step {
					if v := float64(pixels[(k/p.Width*p.Step+i/p.Step)*w+k%p.Width*p.Step+i%p.Step]); v == v {
						sum, n = sum+v, n+1
					}
				}
				// Rounding of some thousand sums of order 10 in single precision.
				if want := sum / n; !(math.Abs(float64(got)-want) < 1e-4) && !(math.IsNaN(float64(got)) && n == 0) {
					t.Fatalf("share %g, width %d, block %d: %g, want %g", share, width, k, got, want)
				}
			}
			if len(p.Pixels) != p.Width*p.Height {
				t.Errorf("%d pixels of %d x %d", len(p.Pixels), p.Width, p.Height)
			}
		}
	}
}

func TestCrops(t *testing.T) {
	px := make([]float32, 10*8)
	for i := range px {
		px[i] = float32(i)
	}
	p := Shrink(px, 10, 8, 5, false)
	p.AddCrops(px, 10, 8, 4, [][2]float64{{4.4, 2.6}, {8, 6}, {8.6, 4}, {1.4, 4}, {2, 2}})
	if len(p.Crops) != 3 {
		t.Fatalf("%d crops, want those that fit", len(p.Crops))
	}
	for i, at := range [][2]int{{2, 1}, {6, 4}, {0, 0}} {
		c := p.Crops[i]
		if c.X != at[0] || c.Y != at[1] || c.Width != 4 || c.Height != 4 || c.Pixels[0] != float32(c.Y*10+c.X) || c.Pixels[15] != float32((c.Y+3)*10+c.X+3) {
			t.Errorf("crop %d at %d,%d: %v", i, c.X, c.Y, c.Pixels)
		}
	}
}
