package stats

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// The linearity example worked by hand from the EMVA 1288 fits (formulas from
// memory): weights 1/y², then equal weights.
func TestFitLineLinearityExample(t *testing.T) {
	x := []float64{1, 2, 4, 6, 8, 10}
	y := []float64{1000, 2010, 4000, 5990, 8020, 9900}
	l, err := FitLine(x, y, y)
	if err != nil || !near(l.A, 5.0901971695, 1e-7) || !near(l.B, 997.4497806463, 1e-7) {
		t.Errorf("relative weights: %+v %v", l, err)
	}
	l, err = FitLine(x, y, nil)
	if err != nil || !near(l.A, 26.301369863, 1e-7) || !near(l.B, 992.3287671233, 1e-7) {
		t.Errorf("equal weights: %+v %v", l, err)
	}
}

func TestFitLineDegenerate(t *testing.T) {
	for _, x := range [][]float64{nil, {1}, {2, 2, 2}} {
		if _, err := FitLine(x, make([]float64, len(x)), nil); !errors.Is(err, errDegenerate) {
			t.Errorf("%v: %v", x, err)
		}
	}
	l, err := FitLine([]float64{0, 1}, []float64{1, 3}, nil)
	if err != nil || l.A != 1 || l.B != 2 || !math.IsNaN(l.ErrB) {
		t.Errorf("two points: %+v %v", l, err)
	}
	l, err = FitLine([]float64{0, 1}, []float64{1, 3}, []float64{0.3, 0.4})
	if err != nil || !near(l.ErrB, 0.5, 1e-12) || !near(l.ErrA, 0.3, 1e-12) || !near(l.ErrAt(1), 0.4, 1e-12) {
		t.Errorf("two points with errors: %+v %v", l, err)
	}
}

// The errors that a fit claims are those by which repeated fits scatter.
func TestFitLineErrors(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	x := []float64{1, 2, 3, 5, 8, 13}
	sigma := []float64{1, 1, 2, 2, 3, 3}
	const runs = 4000
	var slopes, at20 []float64
	var claimed, claimed20 float64
	for range runs {
		y := make([]float64, len(x))
		for i := range y {
			y[i] = 3 + 2*x[i] + sigma[i]*rng.NormFloat64()
		}
		l, err := FitLine(x, y, sigma)
		if err != nil {
			t.Fatal(err)
		}
		slopes = append(slopes, l.B)
		at20 = append(at20, l.At(20))
		if l.Chi2 <= 4 { // not widened
			claimed, claimed20 = l.ErrB, l.ErrAt(20)
		}
	}
	// The scatter of 4000 values is known to 1.1 %.
	if got := math.Sqrt(Variance(slopes)); !near(got, claimed, 0.04*claimed) {
		t.Errorf("slope scatters by %v, claimed %v", got, claimed)
	}
	if got := math.Sqrt(Variance(at20)); !near(got, claimed20, 0.04*claimed20) {
		t.Errorf("height at 20 scatters by %v, claimed %v", got, claimed20)
	}
}
