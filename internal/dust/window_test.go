package dust

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// A map that is a polynomial of the illumination's order is even: 1 everywhere, to
// rounding.
func TestEvened(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	m := stats.Map{Width: 61, Height: 47, Step: 4, Values: make([]float64, 61*47)}
	columns, rows := chebyshev(m.Width), chebyshev(m.Height)
	for a := range columns[0] {
		for b := 0; a+b <= evenOrder; b++ {
			c := 0.05 * rng.NormFloat64()
			if a+b == 0 {
				c = 3
			}
			for k := range m.Values {
				m.Values[k] += c * columns[k%m.Width][a] * rows[k/m.Width][b]
			}
		}
	}
	for k, v := range evened(m, m).Values {
		if !(math.Abs(v-1) <= 1e-9) {
			t.Fatalf("cell %d, %d: %v", k%m.Width, k/m.Width, v)
		}
	}
}

// The neighbours looked up once for a window hide the cells that all shadows would.
func TestNeighboursOfAWindow(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	m := stats.Map{Width: 100, Height: 80, Step: 6, Values: make([]float64, 8000)}
	for i := range m.Values {
		m.Values[i] = 1 + 0.01*rng.Float64()
	}
	hidden := 0
	for range 50 {
		all := make([]Shadow, 12)
		for i := range all {
			all[i] = Shadow{X: 600 * rng.Float64(), Y: 480 * rng.Float64(), Diameter: 20 + 120*rng.Float64()}
		}
		w, ok := newWindow(m, all[0], all)
		if !ok {
			continue // all of its rim is hidden
		}
		for k, c := range w.cells {
			x, y := m.Centre(w.i+c[0], w.j+c[1])
			want := false
			for _, o := range all[1:] {
				want = want || math.Hypot(x-o.X, y-o.Y) < 0.6*o.Diameter
			}
			want = want && math.Hypot(float64(c[0]), float64(c[1])) >= 1.15*w.radius+0.5
			if want {
				hidden++
			}
			if w.blind[k] != want {
				t.Fatalf("cell %v of %+v: hidden %v, want %v", c, all[0], w.blind[k], want)
			}
		}
	}
	if hidden < 100 {
		t.Fatalf("%d cells hidden: the test tells nothing", hidden)
	}
}

// A window's fit is the surface and the shape that its values were made of.
func TestWindowFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	m := stats.Map{Width: 60, Height: 60, Step: 2, Values: make([]float64, 3600)}
	for i := range m.Values {
		m.Values[i] = 1 + 0.1*rng.Float64()
	}
	w, ok := newWindow(m, Shadow{X: 61, Y: 57, Diameter: 30}, nil)
	if !ok {
		t.Fatal("no window")
	}
	want := []float64{2, 0.3, -0.2, 0.15, 0.4, -0.1, 0.7}
	values := make([]float64, len(w.cells))
	for k := range values {
		values[k] = w.surface(want, k) + want[6]*w.depth[k]
		if k%7 == 0 {
			values[k] = math.NaN()
		}
	}
	got, ok := w.fit(values, w.depth)
	for i := range want {
		if !ok || !(math.Abs(got[i]-want[i]) <= 1e-9) {
			t.Fatalf("%v, want %v", got, want)
		}
	}
}
