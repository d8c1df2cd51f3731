package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestMeshRowAgainstPoints holds the fast rows to the interpolation of single
// points, for meshes of one to many cells and widths that no node divides.
func TestMeshRowAgainstPoints(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, size := range [][2]int{{40, 40}, {70, 64}, {130, 70}, {200, 130}, {257, 300}, {1001, 450}} {
		w, h := size[0], size[1]
		data := make([]float32, w*h)
		for i := range data {
			x, y := float64(i%w)/float64(w), float64(i/w)/float64(h)
			data[i] = float32(500 + 300*x*x - 200*x*y + 5*rng.NormFloat64())
		}
		var m Mesh
		m.Fit(data, w, h, 64, 1, nil)
		row := make([]float32, w)
		for y := range h {
			m.LevelRow(y, row)
			sameDifference(t, &m, y, data[y*w:][:w], row)
			for x, got := range row {
				at := func(x int) float64 { return m.LevelAt(float64(x), float64(y)) }
				// On a node only the rounding of float32 differs; between two of
				// them the row is their straight line.
				a := x / nodeStep * nodeStep
				f := float64(x-a) / nodeStep
				want := at(a)*(1-f) + at(a+nodeStep)*f
				if !(math.Abs(float64(got)-want) <= 1e-6*800) {
					t.Fatalf("%dx%d, %d,%d: %.5f, want %.5f", w, h, x, y, got, want)
				}
				// A fifth of the noise, met only where the outermost intervals bend.
				if curve := math.Abs(want - at(x)); curve > 1 {
					t.Fatalf("%dx%d, %d,%d: straight line is %.3f off the cubic", w, h, x, y, curve)
				}
			}
		}
	}
}

// sameDifference holds a row less its level to the difference of the two.
func sameDifference(t *testing.T, m *Mesh, y int, data, level []float32) {
	t.Helper()
	inf := float32(math.Inf(1))
	data[y%len(data)], data[(y+5)%len(data)], data[(y+9)%len(data)] = inf, -inf, float32(math.NaN())
	row := slices.Clone(data)
	marks, high := make([]uint8, len(row)/8+1), data[len(data)/2]-level[len(data)/2]
	got, odd := m.SubtractRow(y, row, high, marks)
	top := float32(-math.MaxFloat32)
	for x, v := range data {
		if v < inf {
			top = max(top, v)
		}
		if d := v - level[x]; row[x] != d && (d == d || row[x] == row[x]) {
			t.Fatalf("%d,%d: %v, want %v", x, y, row[x], d)
		}
		if marked := marks[x/8]>>(x%8)&1 != 0; marked != (row[x] >= high) {
			t.Fatalf("%d,%d: %v of %v is marked: %v", x, y, row[x], high, marked)
		}
	}
	if got != top || !odd {
		t.Fatalf("row %d: highest %v, want %v; odd ones seen: %v", y, got, top, odd)
	}
}
