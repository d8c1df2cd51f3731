package stats

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Strips of frames side by side give the means that whole frames give, in
// counted and uncounted rows, with hits, dropped samples and noisy pixels.
func TestSweepMatchesWholeFrames(t *testing.T) {
	for _, c := range []struct{ n, w, h int }{{1, 410, 200}, {2, 410, 200}, {3, 4100, 2000}, {6, 410, 200}, {9, 410, 200}} {
		if testing.Short() && c.h > 1000 {
			continue
		}
		n, w, h := c.n, c.w, c.h // of the large one every second row is counted
		rng := rand.New(rand.NewPCG(9, uint64(n)))
		fs := make([][]uint16, n)
		for f := range fs {
			fs[f] = make([]uint16, w*h)
			for i := range fs[f] {
				fs[f][i] = uint16(990 + rng.IntN(21))
			}
			for range w * h / 1640 {
				fs[f][rng.IntN(w*h)] = 9000
				fs[f][rng.IntN(w*h)] = 3
			}
			for i := 0; i < w*h; i += 997 { // telegraph pixels
				fs[f][i] += uint16(60 * rng.IntN(2))
			}
		}
		whole := NewStack(w, h)
		whole.Add(nil, fs, 2)
		side := NewStack(w, h)
		sw := side.Sweep(n, false, true, 1)
		px := whole.Pixels()
		want, got := make([]float32, w*h), make([]float32, w*h)
		px.CleanMean(want, 5, 6)
		rows := make([][]uint16, n)
		for y := 0; y < h; y += 8 {
			for f := range rows {
				rows[f] = fs[f][y*w : (y+8)*w]
			}
			adding := sw.Strip(0, y, len(rows[0]), nil)
			for some := range slices.Chunk(rows, 1+y/8%5) { // however many come at once
				adding.Add(some...)
			}
			strip := adding.Pixels()
			strip.CleanMean(got[y*w:(y+8)*w], 5, 6)
			if v, all := strip.Variance(17), px.Variance(y*w+17); n > 1 && v != all { // row y is counted
				t.Fatalf("%d frames, row %d: variance %v, want %v", n, y, v, all)
			}
		}
		sw.Close()
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("%d frames: pixel %d: %v, want %v", n, i, got[i], want[i])
			}
		}
		for p := range whole.Pairs {
			if whole.Pairs[p] != side.Pairs[p] {
				t.Errorf("%d frames: pair %d: %+v, want %+v", n, p, side.Pairs[p], whole.Pairs[p])
			}
		}
	}
}
