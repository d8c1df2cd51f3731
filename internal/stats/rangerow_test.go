package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The vector loops give bit for bit what the plain ones give, for any width and
// any values, the largest over more pixels than one chunk among them.
func TestRowSumsMatchPlainLoops(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 3))
	lengths := []int{6248, 1<<16 + 40, 1<<17 + 1}
	for n := range 258 {
		lengths = append(lengths, n)
	}
	for _, n := range lengths {
		for _, most := range []bool{false, true} {
			row := func() []uint16 {
				x := make([]uint16, n+3)[3:] // on no boundary
				for i := range x {
					x[i] = uint16(rng.UintN(1 << 16))
					if most {
						x[i] = math.MaxUint16
					}
				}
				return x
			}
			x := [4][]uint16{row(), row(), row(), row()}
			sum, lo, hi := make([]uint32, n), row(), row()
			for i := range sum {
				sum[i] = rng.Uint32()
			}
			wantSum, wantLo, wantHi := slices.Clone(sum), slices.Clone(lo), slices.Clone(hi)
			got := rangeRow4(x[0], x[1], x[2], x[3], sum, lo, hi)
			want := rangeRow4Plain(x[0], x[1], x[2], x[3], wantSum, wantLo, wantHi)
			if got != want || !slices.Equal(sum, wantSum) || !slices.Equal(lo, wantLo) || !slices.Equal(hi, wantHi) {
				t.Errorf("%d pixels: totals %v, want %v", n, got, want)
			}
			sq := make([]uint64, n)
			for i := range sq {
				sq[i] = rng.Uint64N(1 << 60)
			}
			wantSq := slices.Clone(sq)
			squareRow4(x[0], x[1], x[2], x[3], sq)
			squareRow4Plain(x[0], x[1], x[2], x[3], wantSq)
			if !slices.Equal(sq, wantSq) {
				t.Errorf("%d pixels: other squares", n)
			}
		}
	}
}

// Means come out the same, bit for bit, whether pixels are judged eight at a
// time or one by one; extremes just within and just beyond the limit among them.
func TestCalmMeansMatchOneByOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, frames := range []int{1, 2, 3, 5, 20, 100} {
		for _, level := range []float64{40, 65000} {
			for _, sigma := range []float64{0.3, 1.6, 300, math.Inf(1)} {
				compareMeans(t, rng, 1003, frames, level, sigma)
			}
		}
	}
	for width := range 258 {
		compareMeans(t, rng, width, 5, 1000, 3)
	}
}

func compareMeans(t *testing.T, rng *rand.Rand, width, frames int, level, sigma float64) {
	t.Helper()
	px := newPixels(width)
	px.N = frames
	px.samples = make([][]uint16, frames)
	for f := range px.samples {
		px.samples[f] = make([]uint16, width)
		for i := range px.samples[f] {
			v := level + min(sigma, 1e4)*rng.NormFloat64()
			if rng.IntN(50) == 0 {
				v += 5.1 * min(sigma, 1e4) * float64(rng.IntN(3)-1)
			}
			w := uint16(min(max(math.Round(v), 0), math.MaxUint16))
			px.samples[f][i] = w
			px.sum[i] += uint32(w)
			px.lo[i], px.hi[i] = min(px.lo[i], w), max(px.hi[i], w)
		}
	}
	got, want := make([]float32, width), make([]float32, width)
	rejected := px.CleanMean(got, 5, sigma)
	if r := px.cleanMeans(want, 0, 5, sigma); r != rejected || !slices.Equal(got, want) {
		t.Errorf("%d pixels of %d frames at %v, sigma %v: %d rejected, want %d", width, frames, level, sigma, rejected, r)
	}
}

func BenchmarkRangeRow(b *testing.B) {
	for name, row := range map[string]func(x0, x1, x2, x3 []uint16, sum []uint32, lo, hi []uint16) [4]uint64{"vector": rangeRow4, "plain": rangeRow4Plain} {
		b.Run(name+"/width=6248", func(b *testing.B) {
			const n = 6248
			fs := noisyFrames(1, n, 1, 4, 500, 2)
			sum, lo, hi := make([]uint32, n), make([]uint16, n), make([]uint16, n)
			b.SetBytes(4 * 2 * n)
			for b.Loop() {
				row(fs[0], fs[1], fs[2], fs[3], sum, lo, hi)
			}
		})
	}
}

func BenchmarkSquareRow(b *testing.B) {
	for name, row := range map[string]func(x0, x1, x2, x3 []uint16, sq []uint64){"vector": squareRow4, "plain": squareRow4Plain} {
		b.Run(name+"/width=6248", func(b *testing.B) {
			const n = 6248
			fs := noisyFrames(1, n, 1, 4, 500, 2)
			sq := make([]uint64, n)
			b.SetBytes(4 * 2 * n)
			for b.Loop() {
				row(fs[0], fs[1], fs[2], fs[3], sq)
			}
		})
	}
}

func BenchmarkCalmMeans(b *testing.B) {
	const n, frames = 6248, 20
	px := newPixels(n)
	px.N = frames
	for i := range n {
		px.sum[i], px.lo[i], px.hi[i] = 500*frames, 498, 502
	}
	dst := make([]float32, n)
	for name, mean := range map[string]func(){
		"vector": func() { px.CleanMean(dst, 5, 2) },
		"plain":  func() { px.cleanMeans(dst, 0, 5, 2) },
	} {
		b.Run(name+"/width=6248", func(b *testing.B) {
			for b.Loop() {
				mean()
			}
		})
	}
}
