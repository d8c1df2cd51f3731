package subs

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/measure"
	"fitsqa/internal/stats"
)

// lanczos is the windowed sinc of three lobes.
func lanczos(x float64) float64 {
	if x == 0 {
		return 1
	}
	if math.Abs(x) >= 3 {
		return 0
	}
	return 3 * math.Sin(math.Pi*x) * math.Sin(math.Pi*x/3) / (math.Pi * math.Pi * x * x)
}

// registered moves an image by a fraction of a pixel, rows and then columns.
func registered(data []float32, w, h int, dx, dy float64) []float32 {
	pass := func(src []float32, shift float64, stride, n, step, lines int) []float32 {
		out := make([]float32, len(src))
		for line := range lines {
			for i := range n {
				var sum, weight float64
				for k := -3; k <= 3; k++ {
					if j := i + k; j >= 0 && j < n {
						l := lanczos(float64(k) - shift)
						sum, weight = sum+l*float64(src[line*stride+j*step]), weight+l
					}
				}
				out[line*stride+i*step] = float32(sum / weight)
			}
		}
		return out
	}
	return pass(pass(data, dx, w, w, 1, h), dy, 1, h, w, w)
}

// drawField draws stars at the same places, moved by a fraction of a pixel, as
// the shape has them, integrated over pixels (5 x 5 points each).
func drawField(rng *rand.Rand, w, h int, s starShape, dx, dy float64) []float32 {
	data := make([]float32, w*h)
	for i := range data {
		data[i] = float32(1000 + 10*rng.NormFloat64())
	}
	for j := range 4 {
		for i := range 5 {
			x, y := 30+42*float64(i)+3.3*float64(j)+dx, 30+42*float64(j)+2.7*float64(i)+dy
			flux := 6e4 * (1 + 0.1*float64(i))
			for py := int(y) - 18; py <= int(y)+18; py++ {
				for px := int(x) - 18; px <= int(x)+18; px++ {
					if px < 0 || py < 0 || px >= w || py >= h {
						continue
					}
					sum := 0.0
					for k := range 25 {
						sum += s.at(float64(px)-x+float64(k%5)/5-0.4, float64(py)-y+float64(k/5)/5-0.4)
					}
					data[py*w+px] += float32(flux * sum / 25)
				}
			}
		}
	}
	return data
}

// The predicted width and ellipticity against stacks that are really made:
// subs are drawn, measured, registered and averaged, and the average is measured
// like a sub. Widths agree within 3 %, ellipticities within 0.015, the accuracy
// of one measurement.
func TestPredictedShapeAgainstRealStacks(t *testing.T) {
	if testing.Short() {
		t.Skip("makes and measures stacks")
	}
	t.Parallel()
	const w, h = 240, 200
	for name, c := range map[string]func(i int) starShape{
		"seeing and focus": func(i int) starShape { return madeShape(2.6+0.35*float64(i), 3, 0, 0) },
		"half soft":        func(i int) starShape { return madeShape([]float64{2.8, 5.2}[i%2], 3.5, 0, 0) },
		"some trailed":     func(i int) starShape { return madeShape(3.2, 3, []float64{0, 0.1, 0.45}[i%3], 30) },
		"one long trail":   func(i int) starShape { return madeShape(3.2, 3, []float64{0, 0, 0.55, 0, 0}[i%5], 30) },
		"gusts":            func(i int) starShape { return madeShape(3, 4, 0.4, 50*float64(i)) },
	} {
		rng := rand.New(rand.NewPCG(1, uint64(len(name))))
		sum := make([]float32, w*h)
		var shapes []starShape
		const n = 5
		for i := range n {
			dx, dy := rng.Float64()-0.5, rng.Float64()-0.5
			data := drawField(rng, w, h, c(i), dx, dy)
			shapes = append(shapes, shapeOf(measured(t, data, w, h)))
			for k, v := range registered(data, w, h, dx, dy) {
				sum[k] += v / n
			}
		}
		got := measured(t, sum, w, h)
		fwhm, e := stackShape(shapes)
		t.Logf("%s: FWHM %.3f of %.3f px, ellipticity %.3f of %.3f", name, fwhm, got.FWHM.V, e, got.Ellipticity.V)
		if !(math.Abs(fwhm/got.FWHM.V-1) <= 0.03) {
			t.Errorf("%s: FWHM predicted %.3f px, the stack has %.3f", name, fwhm, got.FWHM.V)
		}
		if !(math.Abs(e-got.Ellipticity.V) <= 0.015) {
			t.Errorf("%s: ellipticity predicted %.3f, the stack has %.3f", name, e, got.Ellipticity.V)
		}
	}
}

// madeShape is one of given figures.
func madeShape(fwhm, beta, e, angle float64) starShape {
	return shapeOf(&stars.Field{
		FWHM: stats.Known(fwhm, 0, 1), Ellipticity: stats.Known(e, 0, 1), Coherence: stats.Known(1, 0, 1), Angle: stats.Known(angle, 0, 1),
		Stars: []stars.Star{{Fitted: true, Beta: beta}},
	})
}

func measured(t *testing.T, data []float32, w, h int) *stars.Field {
	t.Helper()
	f, err := new(measure.Measurer).Measure(append([]float32(nil), data...), w, h, stars.DefaultOptions)
	if err != nil || !f.FWHM.OK() {
		t.Fatalf("%v, FWHM %+v", err, f.FWHM)
	}
	return f
}

// A stack of one kind of star is that star; soft subs widen it less than their
// share; trails across each other make it round. 0.005: the second moment of a line, which tells
// its ellipticity, is not quite its fit's.
func TestStackShape(t *testing.T) {
	one := madeShape(3, 3, 0.3, 70)
	if f, e := stackShape([]starShape{one, one}); !(math.Abs(f/3-1) <= 1e-3) || !(math.Abs(e-0.3) <= 5e-3) {
		t.Errorf("FWHM %.4f, ellipticity %.4f", f, e)
	}
	if f, _ := stackShape([]starShape{madeShape(3, 3, 0, 0), madeShape(6, 3, 0, 0)}); !(f > 3 && f < 4) {
		t.Errorf("of 3 and 6 px: %.2f", f)
	}
	if _, e := stackShape([]starShape{madeShape(3, 3, 0.3, 10), madeShape(3, 3, 0.3, 100)}); e > 0.02 {
		t.Errorf("of two crossed trails: %.3f", e)
	}
	if f, e := stackShape(nil); !math.IsNaN(f) || !math.IsNaN(e) {
		t.Errorf("of none: %v %v", f, e)
	}
}

// The marks lie in order: what is best for detail drops no less than what is
// best for depth, and each is the best of its own kind.
func TestMarksAreInOrder(t *testing.T) {
	night := makeNight(3, "R", 40, func(i int, tr *truth) {
		tr.fwhm *= 1 + 0.03*float64(i)
		tr.transparency = 1 - 0.02*float64(i%7)
	})
	g := Judge(night, DefaultLimits).Groups[0]
	m := g.Economics.Marks
	if len(m) != 3 || m[0].Aim != Depth || m[1].Aim != Balance || m[2].Aim != Detail || !(m[0].Drop <= m[1].Drop && m[1].Drop < m[2].Drop) {
		t.Errorf("marks %+v", m)
	}
	if f := g.Economics.FWHM; !(f[m[2].Drop] < f[m[1].Drop] && f[m[1].Drop] < f[0]) {
		t.Errorf("FWHM at the marks %+v: %.2f, %.2f, %.2f", m, f[m[0].Drop], f[m[1].Drop], f[m[2].Drop])
	}
}
