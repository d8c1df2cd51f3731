package worth

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stats"
)

// A flat that divides a dark current too lifts the corners by what that is of the sky; one that
// fits lifts nothing, under gradients and nebulae too, and one that does not fit is not taken for
// dark current where the sensor shows no pattern of one.
func TestCornersLifted(t *testing.T) {
	const w, h, sky = 320, 256, 200.0
	light := func(x, y int) float64 { // falls by 30 % to the corners, 1 in the mean
		u, v := (float64(x)-w/2)/(w/2), (float64(y)-h/2)/(h/2)
		return (1 - 0.15*(u*u+v*v)) / 0.9
	}
	lift := 1/light(4, 4) - 1/light(w/2, h/2)
	rows := make([]int, h)
	for y := range rows {
		rows[y] = y
	}
	for _, test := range []struct {
		name                            string
		dark, pattern, gradient, nebula float64
		misfit                          float64 // of the flat that is applied, in the corners
		want, tolerance                 float64 // % of the sky; 0: none is told
	}{
		{name: "dark current", dark: 200, pattern: 30, want: 100 * 200 * lift / 400, tolerance: 0.3}, // a fiftieth: noise is a tenth of that
		{name: "under a gradient", dark: 100, pattern: 15, gradient: 0.3, want: 100 * 100 * lift / 300, tolerance: 0.3},
		{name: "none", pattern: 0.5},
		{name: "none under nebula and gradient", pattern: 0.5, gradient: 0.3, nebula: 1},
		{name: "a flat that does not fit", pattern: 0.5, misfit: 0.1},
	} {
		s := NewSeen(w, h, rows, h, false)
		rng := rand.New(rand.NewPCG(9, uint64(test.dark)))
		for range 8 {
			sub := make([]float32, w*h)
			for i := range sub {
				x, y := i%w, i/w
				f, u, v := light(x, y), float64(x)/w-0.5, float64(y)/h-0.5
				level := sky*(1+test.gradient*u+test.nebula*math.Exp(-((u-0.2)*(u-0.2)+(v-0.1)*(v-0.1))/0.03)) + test.dark/f
				level *= 1 + test.misfit*(u*u+v*v)*2
				sub[i] = float32(level + math.Sqrt(level)*rng.NormFloat64())
			}
			s.Add(sub, nil)
		}
		found := Found{Pattern: stats.Known(test.pattern, 0.1, 8), Lifted: stats.Missing(NotWeighed)}
		s.Lift(&found, light)
		t.Logf("%s: %+v", test.name, found.Lifted)
		switch got := found.Lifted; {
		case test.want == 0 && got.OK():
			t.Errorf("%s: %.2f ± %.2f %%, want none", test.name, got.V, got.Err)
		case test.want > 0 && !(math.Abs(got.V-test.want) < test.tolerance):
			t.Errorf("%s: %.2f ± %.2f %%, want %.2f", test.name, got.V, got.Err, test.want)
		}
	}
}
