package figures

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
)

// patternFields are subs of 200 stars whose width and ellipticity vector follow
// a pattern in u and v (-1 to 1), with 3 % and 0.03 of noise a star.
func patternFields(seed uint64, width func(u, v float64) float64, vector func(u, v float64) (float64, float64)) []*stars.Field {
	rng := rand.New(rand.NewPCG(seed, 8))
	var out []*stars.Field
	for k := range 5 {
		seeing := 3 + 0.4*float64(k) // focus or air changes from sub to sub
		f := &stars.Field{Width: 1000, Height: 800, FWHM: stats.Known(seeing, 0.02, 200)}
		for range 200 {
			x, y := rng.Float64()*999, rng.Float64()*799
			u, v := 2*x/999-1, 2*y/799-1
			e1, e2 := vector(u, v)
			e1, e2 = e1+0.03*rng.NormFloat64(), e2+0.03*rng.NormFloat64()
			f.Stars = append(f.Stars, stars.Star{X: x, Y: y, Fitted: true, FWHM: seeing * width(u, v) * (1 + 0.03*rng.NormFloat64()),
				Ellipticity: math.Hypot(e1, e2), Angle: stars.Wrap90(math.Atan2(e2, e1) * 90 / math.Pi)})
		}
		out = append(out, f)
	}
	return out
}

func TestCombineFindings(t *testing.T) {
	even := func(u, v float64) float64 { return 1 }
	still := func(u, v float64) (float64, float64) { return 0, 0 }
	radial := func(u, v float64) (float64, float64) {
		s, c := math.Sincos(2 * math.Atan2(v*800, u*1000))
		e := 0.2 * math.Hypot(u, v)
		return e * c, e * s
	}
	cases := []struct {
		name   string
		width  func(u, v float64) float64
		vector func(u, v float64) (float64, float64)
		want   []string // in each finding, in order
	}{
		{"nothing", even, still, nil},
		{"tilt", func(u, v float64) float64 { return 1 + 0.05*u - 0.05*v }, still, []string{"lower_right_corner"}},
		{"slight tilt", func(u, v float64) float64 { return 1 + 0.02*u - 0.02*v }, still, nil},
		{"tilt to one side", func(u, v float64) float64 { return 1 + 0.08*u }, still, []string{"place=right_edge"}},
		{"tilt upwards", func(u, v float64) float64 { return 1 + 0.01*u + 0.08*v }, still, []string{"place=upper_edge"}},
		{"sharpest beyond the frame", func(u, v float64) float64 { return 1 + 0.06*((u-1.1)*(u-1.1)+v*v) }, still, []string{"left_edge", "corners_soft"}},
		{"slight trail", even, func(u, v float64) (float64, float64) { return 0, 0.06 }, nil},
		{"curvature", func(u, v float64) float64 { return 1 + 0.08*(u*u+v*v) }, still, []string{"corners_soft(softer_pct=1"}},
		{"off the middle", func(u, v float64) float64 { return 1 + 0.08*((u-0.5)*(u-0.5)+v*v) }, still, []string{"side_soft", "corners_soft", "x_px=7"}},
		{"tracking", even, func(u, v float64) (float64, float64) { return 0, 0.15 }, []string{"drawn_out_alike(ellipticity=0.1"}},
		{"coma", even, radial, []string{"drawn_from_middle"}},
		{"tangential", even, func(u, v float64) (float64, float64) { x, y := radial(u, v); return -x, -y }, []string{"drawn_round"}},
	}
	for _, c := range cases {
		for seed := range uint64(5) {
			m, got, notes := Combine(patternFields(seed, c.width, c.vector))
			if m.Cols != 5 || m.Rows != 5 || (notes == nil) == (c.want == nil) {
				t.Fatalf("%s: map of %d x %d, notes %v", c.name, m.Cols, m.Rows, notes)
			}
			ok := len(got) == len(c.want)
			for i := range min(len(got), len(c.want)) {
				ok = ok && strings.Contains(fmt.Sprint(got[i]), c.want[i])
			}
			if !ok {
				t.Errorf("%s, seed %d: %v", c.name, seed, got)
			}
		}
	}
}

func TestCombineOfTooLittle(t *testing.T) {
	few := &stars.Field{Width: 100, Height: 100, FWHM: stats.Known(3, 0.1, 30)}
	for i := range 30 {
		few.Stars = append(few.Stars, stars.Star{X: float64(3 * i), Y: float64(i * 31 % 100), Fitted: true, FWHM: 3})
	}
	m, got, notes := Combine([]*stars.Field{few})
	if m.Cols != 2 || got != nil || len(notes) != 1 || notes[0].Code != stars.NotLookedFor {
		t.Errorf("30 stars: %d x %d, %v, %v", m.Cols, m.Rows, got, notes)
	}
	few.Stars = few.Stars[:20]
	if m, got, notes := Combine([]*stars.Field{few}); m.Cells != nil || got != nil || len(notes) != 2 || notes[0].Code != stars.NoMap || notes[0].Values[0].Number != 20 {
		t.Errorf("20 stars: %v, %v, %v", m.Cells, got, notes)
	}
	if m, got, notes := Combine([]*stars.Field{nil, {Width: 10, Height: 10, FWHM: stats.Missing("no stars")}}); m.Cells != nil || got != nil || len(notes) != 1 {
		t.Errorf("nothing: %v, %v, %v", m.Cells, got, notes)
	}
}
