package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

const meshW, meshH = 512, 400

func fitMesh(data []float32, skip func(int) bool) *Mesh {
	var m Mesh
	m.Fit(data, meshW, meshH, MeshCell(meshW, meshH), 2, skip)
	return &m
}

func drawn(f func(x, y float64) float64) []float32 {
	data := make([]float32, meshW*meshH)
	for i := range data {
		data[i] = float32(f(float64(i%meshW), float64(i/meshW)))
	}
	return data
}

func TestMeshOfAConstant(t *testing.T) {
	m := fitMesh(drawn(func(_, _ float64) float64 { return 1234 }), nil)
	if !m.Any() {
		t.Fatal("no cell measured")
	}
	for _, at := range [][2]float64{{0, 0}, {255.5, 199.5}, {511, 399}} {
		if l, n := m.LevelAt(at[0], at[1]), m.NoiseAt(at[0], at[1]); l != 1234 || n != 0 {
			t.Errorf("at %v: level %v, noise %v; want 1234 and 0", at, l, n)
		}
	}
}

func TestMeshOfNothing(t *testing.T) {
	nan := float32(math.NaN())
	m := fitMesh(drawn(func(_, _ float64) float64 { return float64(nan) }), nil)
	if m.Any() {
		t.Error("masked pixels were measured")
	}
	m = fitMesh(drawn(func(_, _ float64) float64 { return 1 }), func(int) bool { return true })
	if m.Any() {
		t.Error("skipped pixels were measured")
	}
}

// A slope, noise of known size, and a tenth of the pixels bright: the level
// must follow the slope to a tenth of the noise, the noise to 5 % (a cell's few
// hundred samples alone give 3 %, and the slope across a cell adds 1 %). The bright pixels may lift the level by
// what the mode cannot tell apart; half a sigma would be a broken mode, the mean
// would be off by 20.
func TestMeshFollowsASlopeUnderStars(t *testing.T) {
	const noise = 8.0
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 5))
		slope := func(x, y float64) float64 { return 500 + 0.05*x - 0.03*y }
		clean := drawn(func(x, y float64) float64 { return slope(x, y) + noise*rng.NormFloat64() })
		starry := append([]float32(nil), clean...)
		for i := range starry {
			if rng.Float64() < 0.1 {
				starry[i] += float32(200 + 100*rng.ExpFloat64())
			}
		}
		for name, c := range map[string]struct {
			data  []float32
			level float64
		}{"clean": {clean, 0.1 * noise * 2}, "starry": {starry, 0.5 * noise}} {
			m := fitMesh(c.data, nil)
			var worst, spread, n float64
			for y := 32.0; y < meshH-32; y += 16 {
				for x := 32.0; x < meshW-32; x += 16 {
					d := m.LevelAt(x, y) - slope(x, y)
					worst = max(worst, math.Abs(d))
					spread += m.NoiseAt(x, y)
					n++
				}
			}
			if worst > c.level {
				t.Errorf("seed %d, %s: level off by up to %.2f, want within %.2f", seed, name, worst, c.level)
			}
			// Bright pixels that blend into the noise's upper wing add to it.
			if r := spread / n / noise; r < 0.95 || r > 1.05 {
				t.Errorf("seed %d, %s: noise %.3f of the true one", seed, name, r)
			}
		}
	}
}

// A hole larger than a cell is bridged from its neighbours, not left at zero.
func TestMeshBridgesMaskedCells(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	data := drawn(func(x, y float64) float64 {
		if x > 150 && x < 330 && y > 120 && y < 290 {
			return math.NaN()
		}
		return 300 + 5*rng.NormFloat64()
	})
	m := fitMesh(data, nil)
	if l := m.LevelAt(240, 200); !(math.Abs(l-300) <= 1) {
		t.Errorf("level in the hole %.2f, want 300 within 1 (a fifth of the noise)", l)
	}
}

// The row interpolation must be what single points give.
func TestMeshRowsAgainstPoints(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	m := fitMesh(drawn(func(x, y float64) float64 { return 100 + x/10 + y/7 + 3*rng.NormFloat64() }), nil)
	row := make([]float32, meshW)
	for _, y := range []int{0, 17, 200, 399} {
		m.LevelRow(y, row)
		for x, v := range row {
			// float32 of a level of some hundred: 1e-4 is a few units in the last place.
			if want := m.LevelAt(float64(x), float64(y)); !(math.Abs(float64(v)-want) <= 1e-4*want) {
				t.Fatalf("row %d, x %d: %v, want %v", y, x, v, want)
			}
		}
	}
}
