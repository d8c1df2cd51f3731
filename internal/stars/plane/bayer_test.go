package plane

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars/simulated"
)

// The green diagonal is told from the pixels under any sky: red and blue alike or not,
// one of them as bright as green, on a pedestal, and in light of one emission line.
func TestGreenParity(t *testing.T) {
	for _, c := range []struct {
		red, blue, sky, pedestal float64 // red and blue times green
	}{{0.5, 0.45, 200, 0}, {0.5, 0.5, 200, 0}, {0.7, 0.701, 30, 0}, {1, 0.8, 200, 0}, {1.2, 0.9, 200, 0}, {0.6, 0.55, 60, 1000}, {9, 1.1, 20, 0}} {
		for seed := range uint64(8) {
			w, h, green := 200+int(seed), 180, int(seed)&1
			s := simulated.NewSim(seed, w, h, 0)
			for i := range s.E {
				x, y := i%w, i/w
				s.E[i] = c.sky * (1 + 0.2*float64(x)/float64(w))
				switch {
				case (x+y)&1 == green:
				case y&1 == 0:
					s.E[i] *= c.red
				default:
					s.E[i] *= c.blue
				}
				s.E[i] += c.pedestal
			}
			data := s.Frame()
			for i, v := range data {
				data[i] = float32(math.Round(float64(v)))
			}
			if got := GreenParity(data, w, h); got != green {
				t.Errorf("%+v, seed %d: %d", c, seed, got)
			}
		}
	}
}

// TestFillFromGreen holds it to a plain look at the pixels beside each.
func TestFillFromGreen(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, size := range [][2]int{{16, 9}, {9, 16}, {1, 5}, {5, 1}, {2, 2}} {
		for green := range 2 {
			w, h := size[0], size[1]
			data := make([]float32, w*h)
			for i := range data {
				if data[i] = rng.Float32(); rng.IntN(4) == 0 {
					data[i] = float32(math.NaN())
				}
			}
			before := slices.Clone(data)
			FillFromGreen(data, w, h, green)
			for i, got := range data {
				x, y := i%w, i/w
				if (x+y)&1 == green {
					continue
				}
				var sum, n float64
				for k, v := range before {
					if d := max(k%w-x, x-k%w) + max(k/w-y, y-k/w); d == 1 && v == v {
						sum, n = sum+float64(v), n+1
					}
				}
				if want := sum / n; !(math.Abs(float64(got)-want) < 1e-6) && (got == got || want == want) {
					t.Fatalf("%d x %d: %v at %d,%d, want %v", w, h, got, x, y, want)
				}
			}
		}
	}
}
