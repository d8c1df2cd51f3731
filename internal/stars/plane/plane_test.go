package plane

import (
	"math"
	"testing"

	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// TestSubtractWalk holds what the one walk over the frame gathers to plain
// looks at the pixels before and after it, on sides odd and even.
func TestSubtractWalk(t *testing.T) {
	for n, size := range [][2]int{{64, 48}, {63, 48}, {64, 47}, {63, 47}, {17, 16}, {300, 90}, {4200, 32}} {
		w, h := size[0], size[1]
		s := simulated.NewSim(uint64(n), w, h, 300)
		p := &Plane{W: w, H: h, R: s.Frame(), Green: -1}
		for range 60 {
			odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1)}[s.Rng.IntN(3)]
			p.R[s.Rng.IntN(w*h)] = float32(odd)
		}
		for range 20 {
			p.R[s.Rng.IntN(w*h)] += 1e5 // of those beside, some are odd, and filled from it
		}
		p.Mask([]int32{-1, 5, int32(w*h) - 1, int32(w * h)})
		before := append([]float32(nil), p.R...)
		p.Mesh.Fit(p.R, w, h, stats.MeshCell(w, h), 1, nil)
		p.subtract()

		high := p.high.least
		sought, seen := map[int]bool{}, 0
		for y := range h {
			p.EachHigh(y, high, func(from, to int) {
				for x := from; x < to; x++ {
					sought[y*w+x] = true
				}
			})
		}
		level := make([]float32, w)
		for y := range h {
			top := float32(-math.MaxFloat32)
			p.Mesh.LevelRow(y, level)
			for x := range w {
				v := before[y*w+x]
				bad := v-v != 0
				if bad != p.Bad.Get(y*w+x) {
					t.Fatalf("%d x %d: pixel %d,%d of %v is bad: %v", w, h, x, y, v, !bad)
				}
				if p.R[y*w+x] >= high {
					seen++
					if !sought[y*w+x] {
						t.Errorf("%d x %d: %v at %d,%d is high, and not sought", w, h, p.R[y*w+x], x, y)
					}
				}
				if !bad {
					top = max(top, v)
					if got := p.R[y*w+x]; got != v-level[x] {
						t.Fatalf("%d x %d: residual %v at %d,%d, want %v", w, h, got, x, y, v-level[x])
					}
				}
			}
			if p.Tops[y] != top {
				t.Errorf("%d x %d: highest value of row %d is %v, want %v", w, h, y, p.Tops[y], top)
			}
		}
		if seen < 20 || len(sought) == w*h && w > 2*piece {
			t.Errorf("%d x %d: of %d high pixels, %d were sought", w, h, seen, len(sought))
		}
	}
}
