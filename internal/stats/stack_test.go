package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// noisyFrames are frames of Gaussian noise around level, with a particle hit
// or two in each.
func noisyFrames(seed uint64, w, h, n int, level, sigma float64) [][]uint16 {
	rng := rand.New(rand.NewPCG(seed, 9))
	frames := make([][]uint16, n)
	for f := range frames {
		frames[f] = make([]uint16, w*h)
		for i := range frames[f] {
			frames[f][i] = uint16(math.Round(level + float64(f) + sigma*rng.NormFloat64()))
		}
		frames[f][rng.IntN(w*h)] = 60000
	}
	return frames
}

// Differences are counted exactly however far they are: at both ends of the
// small table, beyond it, and at the ends of what 16 bits can differ by.
func TestDifferencesNearAndFar(t *testing.T) {
	const w, h = 16, 8
	steps := []int{0, 1, -1, nearDiff - 1, nearDiff, -nearDiff, -nearDiff - 1, 2 * nearDiff, math.MaxUint16, -math.MaxUint16}
	fs := make([][]uint16, 7)
	for f := range fs {
		fs[f] = make([]uint16, w*h)
		for i := range fs[f] {
			d := steps[(i+f)%len(steps)]
			fs[f][i] = uint16(max(0, d*(f%2)) + max(0, -d*(1-f%2)))
		}
	}
	for _, n := range []int{2, 4, 5, 7} { // one frame at a time and four
		s := NewStack(w, h)
		sw := s.Sweep(n, false, true, 2)
		for y := range h {
			rows := make([][]uint16, n)
			for f := range rows {
				rows[f] = fs[f][y*w : (y+1)*w]
			}
			sw.Strip(y%2, y, len(rows[0]), nil).Add(rows...)
		}
		for f := 1; f < n; f++ {
			want := NewHistogram(-math.MaxUint16, math.MaxUint16)
			for i := range fs[f] {
				want.Add(int(fs[f][i]) - int(fs[f-1][i]))
			}
			got := histogram([]*diffCounts{&sw.workers[0].counts[f], &sw.workers[1].counts[f]})
			a, b := got.Trim(), want.Trim()
			if a.Min != b.Min || !slices.Equal(a.Counts, b.Counts) {
				t.Errorf("%d frames, pair %d: counts differ", n, f)
			}
		}
	}
}

// Any way of cutting a series into batches gives what the slow sums give.
func TestStackMatchesSlowSums(t *testing.T) {
	const w, h, n = 37, 11, 9
	fs := noisyFrames(1, w, h, n, 500, 7)
	for _, cut := range [][]int{{9}, {1, 8}, {4, 5}, {5, 4}, {1, 1, 1, 1, 1, 1, 1, 1, 1}, {2, 7}} {
		s := NewStack(w, h)
		var before []uint16
		at := 0
		for _, c := range cut {
			s.Add(before, fs[at:at+c], 2)
			at += c
			before = fs[at-1]
		}
		if s.Frames != n || len(s.Pairs) != n-1 || len(s.ColDiffs) != columnPairs {
			t.Fatalf("%v: %d frames, %d pairs, %d columns", cut, s.Frames, len(s.Pairs), len(s.ColDiffs))
		}
		px := s.Pixels()
		for i := range w * h {
			var x []float64
			for _, f := range fs {
				x = append(x, float64(f[i]))
			}
			if !near(float64(px.sum[i])/float64(px.N), Mean(x), 1e-9) || !near(px.Variance(i), Variance(x)*n/(n-1), 1e-6*Variance(x)) {
				t.Fatalf("%v: pixel %d: %v %v", cut, i, float64(px.sum[i])/float64(px.N), px.Variance(i))
			}
		}
		for p := range n - 1 {
			hist := NewHistogram(-65535, 65535)
			for i := range fs[p] {
				hist.Add(int(fs[p+1][i]) - int(fs[p][i]))
			}
			if want := hist.SigmaClip(PairClip); s.Pairs[p] != want {
				t.Errorf("%v: pair %d: %+v, want %+v", cut, p, s.Pairs[p], want)
			}
		}
		for p, col := range s.ColDiffs {
			for x, got := range col {
				var sum float64
				for y := range h {
					sum += float64(fs[p+1][y*w+x]) - float64(fs[p][y*w+x])
				}
				if !near(float64(got), sum/h, 1e-3) { // kept as float32
					t.Errorf("%v: pair %d column %d: %v, want %v", cut, p, x, got, sum/h)
				}
			}
		}
		for f, rows := range s.RowMeans {
			for y, got := range rows {
				var sum float64
				for x := range w {
					sum += float64(fs[f][y*w+x])
				}
				if !near(float64(got), sum/w, 1e-2) {
					t.Errorf("%v: frame %d row %d: %v, want %v", cut, f, y, got, sum/w)
				}
			}
		}
	}
}

func TestStackLevels(t *testing.T) {
	s := NewStack(64, 64)
	s.Add(nil, noisyFrames(2, 64, 64, 6, 1000, 7), 2)
	for i, l := range s.Levels() {
		// 7/sqrt(4096) = 0.11 a frame, three sigma of a difference
		if !near(l, 1000+float64(i), 3*0.16) {
			t.Errorf("frame %d: level %v", i, l)
		}
	}
}

func TestStackCleanMean(t *testing.T) {
	for _, n := range []int{2, 3, 4, 5, 12} {
		s := NewStack(1, 4)
		fs := make([][]uint16, n)
		for f := range fs {
			v := uint16(100 + f%3)
			fs[f] = []uint16{v, v, v, v}
		}
		fs[n/2][1] = 5000 // a hit
		fs[0][2] = 0      // a dropped sample
		for f := range fs {
			fs[f][3] = uint16(1000 + 400*(f%2)) // a telegraph pixel: noisy, not hit
		}
		s.Add(nil, fs, 1)
		got := make([]float32, 4)
		px := s.Pixels()
		px.CleanMean(got, 5, 1)
		if !(math.Abs(float64(got[0])-101) <= 1) || !(math.Abs(float64(got[1])-101) <= 1) {
			t.Errorf("%d frames: quiet %v, hit %v", n, got[0], got[1])
		}
		if n > 2 && math.Abs(float64(got[2])-101) > 1 {
			t.Errorf("%d frames: dropped %v", n, got[2])
		}
		if n == 12 && got[3] != 1200 {
			t.Errorf("%d frames: telegraph pixel %v", n, got[3])
		}
	}
}

// In frames too large to count every row, pairs and columns come from some rows
// and sums from all.
func TestStackOfLargeFrames(t *testing.T) {
	const w, h, n = 4100, 2000, 3
	fs := make([][]uint16, n)
	rng := rand.New(rand.NewPCG(8, 8))
	for f := range fs {
		fs[f] = make([]uint16, w*h)
		for i := range fs[f] {
			fs[f][i] = uint16(990 + rng.IntN(21) + f)
		}
	}
	s := NewStack(w, h)
	s.Add(nil, fs, 2)
	if s.RowStep() != 2 || s.Pairs[0].N != w*h/2 {
		t.Fatalf("step %d, %d differences", s.RowStep(), s.Pairs[0].N)
	}
	sd := math.Sqrt(2 * (21*21 - 1) / 12.0) // of the difference of two uniform numbers of 21 values
	for p, pair := range s.Pairs {
		if !near(pair.Mean, 1, 0.02) || !near(pair.SD, sd, 0.005*sd) {
			t.Errorf("pair %d: %+v", p, pair)
		}
	}
	px := s.Pixels()
	for _, i := range []int{0, w + 7, w*h - 1} { // counted and uncounted rows
		var x []float64
		for _, f := range fs {
			x = append(x, float64(f[i]))
		}
		if !near(float64(px.sum[i])/float64(px.N), Mean(x), 1e-9) || !near(px.Variance(i), Variance(x)*n/(n-1), 1e-9) {
			t.Errorf("pixel %d: %v %v", i, float64(px.sum[i])/float64(px.N), px.Variance(i))
		}
	}
	for x, got := range s.ColDiffs[0] {
		var sum float64
		for y := 0; y < h; y += 2 {
			sum += float64(fs[1][y*w+x]) - float64(fs[0][y*w+x])
		}
		if !near(float64(got), sum/(h/2), 1e-3) {
			t.Fatalf("column %d: %v, want %v", x, got, sum/(h/2))
		}
	}
}

func BenchmarkStackAdd(b *testing.B) {
	const w, h, n = 2048, 1024, 8
	fs := noisyFrames(3, w, h, n, 1000, 7)
	s := NewStack(w, h)
	b.SetBytes(w * h * n * 2)
	b.ResetTimer()
	for range b.N {
		s.Frames, s.Pairs, s.RowMeans, s.ColDiffs = 0, nil, nil, nil
		s.Add(nil, fs, 2)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(w*h*n), "ns/sample")
}
