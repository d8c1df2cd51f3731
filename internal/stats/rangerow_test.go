package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The vector loop gives bit for bit what the plain one gives, for any width and
// any values, the largest over more pixels than one chunk among them.
func TestRangeRowMatchesPlainLoop(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 3))
	for _, n := range []int{0, 1, 15, 16, 17, 31, 32, 100, 6248, 1<<16 + 40, 1<<17 + 1} {
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
		}
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
