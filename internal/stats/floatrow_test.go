package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// drawnRow is a row on no boundary, some of whose numbers are none when odd is set.
func drawnRow(rng *rand.Rand, n int, odd bool) []float32 {
	row := make([]float32, n+3)[3:]
	for i := range row {
		row[i] = float32(1000 + 30*rng.NormFloat64())
		if odd && rng.IntN(40) == 0 {
			row[i] = []float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1))}[rng.IntN(3)]
		}
	}
	return row
}

// sameBits tells whether two rows are alike to the bit, one NaN being like another.
func sameBits(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(x, y float32) bool { return x == y || x != x && y != y })
}

// Vector instructions give bit for bit what one number after another gives, for
// any length, and write nothing beyond it.
func TestRowsMatchPlainLoops(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for n := range 258 {
		for _, odd := range []bool{false, true} {
			a, b, c, d := drawnRow(rng, 2*n, odd), drawnRow(rng, 2*n, odd), drawnRow(rng, n, odd), drawnRow(rng, n, odd)
			got, want := slices.Repeat([]float32{-1}, n+9), slices.Repeat([]float32{-1}, n+9)
			same := func(what string) {
				t.Helper()
				if !sameBits(got, want) {
					t.Fatalf("%s of %d: not the same", what, n)
				}
			}
			AddPairs(got[:n], a, b)
			addPairsPlain(want[:n], a, b)
			same("pairs")
			AddRow(got[:n], c)
			addRowPlain(want[:n], c)
			same("row")
			TakeRow(got[:n], d)
			takeRowPlain(want[:n], d)
			same("row less")
			flat := drawnRow(rng, n, odd)
			for i := range flat {
				flat[i] = max(flat[i]/1000-0.97, -0.01) // some without light
			}
			DivideRow(got[:n], flat)
			divideRowPlain(want[:n], flat)
			same("row divided")
			counts, plainCounts := make([]float32, n), make([]float32, n)
			AddWithin(got[:n], counts, c, 1020)
			addWithinPlain(want[:n], plainCounts, c, 1020)
			same("row within a limit")
			if !slices.Equal(counts, plainCounts) {
				t.Fatalf("counts of %d: not the same", n)
			}
			rows, weights := [4][]float32{a, b, c, d}, [4]float32{-0.0625, 0.5625, 0.5625, -0.07}
			blendRows(got[:n], &rows, &weights)
			blendRowsPlain(want[:n], &rows, &weights)
			same("blend")
			sums := slices.Clone(got[:n])
			if AddFour(got[:n], sums, &rows) != addFourPlain(want[:n], sums, &rows) {
				t.Fatalf("gaps in four rows of %d: not the same", n)
			}
			same("four rows")
			for count := 1; count <= len(rows); count++ {
				SumRows(got[:n], rows[:count]...)
				sumRowsPlain(want[:n], rows[:count])
				same("sum of rows")
			}
			copy(got, a[:n])
			copy(want, a[:n])
			nodes := drawnRow(rng, n/nodeStep+2, false)
			marks, plainMarks := make([]uint8, n/nodeStep+1), make([]uint8, n/nodeStep+1)
			top, gaps := subtractRamps(got[:n], nodes, 30, marks)
			plainTop, plainGaps := subtractRampsPlain(want[:n], nodes, 30, plainMarks)
			same("ramps")
			if top != plainTop || gaps != plainGaps || !slices.Equal(marks, plainMarks) {
				t.Errorf("ramps of %d: %v %v %x, want %v %v %x", n, top, gaps, marks, plainTop, plainGaps, plainMarks)
			}
			top, gaps = TopOfRow(c)
			plainTop, plainGaps = topOfRowPlain(c)
			if top != plainTop || gaps != plainGaps {
				t.Errorf("top of %d: %v %v, want %v %v", n, top, gaps, plainTop, plainGaps)
			}
			for i := range d {
				d[i] += 90
			}
			if got, want := NextReaching(c, d), nextReachingPlain(c, d); got != want {
				t.Errorf("of %d: the %d. reaches, want the %d.", n, got, want)
			}
		}
	}
}

// What a row of every kind of pixel gives by definition.
func TestTopOfRow(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	for _, c := range []struct {
		row  []float32
		top  float32
		gaps bool
	}{
		{nil, -math.MaxFloat32, false},
		{[]float32{3, -1, 7, 2, 0, 0, 0, 0, 5}, 7, false},
		{[]float32{nan, nan, nan, nan, nan, nan, nan, -5}, -5, true},
		{[]float32{1, 2, 3, 4, 5, 6, 7, inf}, inf, false},
		{[]float32{9, 2, 3, 4, nan, 6, 7, 8}, 9, true},
	} {
		if top, gaps := TopOfRow(c.row); top != c.top || gaps != c.gaps {
			t.Errorf("%v: %v %v", c.row, top, gaps)
		}
	}
}

func BenchmarkFloatRows(b *testing.B) {
	const n = 6248
	rng := rand.New(rand.NewPCG(7, 8))
	row, other, long := drawnRow(rng, n, false), drawnRow(rng, n, false), drawnRow(rng, 2*n, false)
	nodes := make([]float32, n/nodeStep+2)
	need := slices.Repeat([]float32{2000}, n)
	rows, weights := [4][]float32{row, other, long, need}, [4]float32{0.1, 0.4, 0.4, 0.1}
	dst, marks := make([]float32, n), make([]uint8, n/nodeStep)
	for _, c := range []struct {
		name string
		f    func()
	}{
		{"addRow/vector", func() { AddRow(dst, row) }}, {"addRow/plain", func() { addRowPlain(dst, row) }},
		{"addFour/vector", func() { AddFour(dst, need, &rows) }}, {"addFour/plain", func() { addFourPlain(dst, need, &rows) }},
		{"takeRow/vector", func() { TakeRow(dst, row) }}, {"takeRow/plain", func() { takeRowPlain(dst, row) }},
		{"divideRow/vector", func() { DivideRow(dst, row) }}, {"divideRow/plain", func() { divideRowPlain(dst, row) }},
		{"addWithin/vector", func() { AddWithin(dst, need, row, 1020) }}, {"addWithin/plain", func() { addWithinPlain(dst, need, row, 1020) }},
		{"addPairs/vector", func() { AddPairs(dst, long, long) }}, {"addPairs/plain", func() { addPairsPlain(dst, long, long) }},
		{"topOfRow/vector", func() { TopOfRow(row) }}, {"topOfRow/plain", func() { topOfRowPlain(row) }},
		{"nextReaching/vector", func() { NextReaching(row, need) }}, {"nextReaching/plain", func() { nextReachingPlain(row, need) }},
		{"subtractRamps/vector", func() { subtractRamps(dst, nodes, 1020, marks) }}, {"subtractRamps/plain", func() { subtractRampsPlain(dst, nodes, 1020, marks) }},
		{"sumRows/vector", func() { SumRows(dst, rows[:]...) }}, {"sumRows/plain", func() { sumRowsPlain(dst, rows[:]) }},
		{"blendRows/vector", func() { blendRows(dst, &rows, &weights) }}, {"blendRows/plain", func() { blendRowsPlain(dst, &rows, &weights) }},
	} {
		b.Run(c.name+"/pixels=6248", func(b *testing.B) {
			for b.Loop() {
				c.f()
			}
		})
	}
}
