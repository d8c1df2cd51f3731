package figures

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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

// across is the width over a field in focus along a line through its middle, and soft away
// from it at an angle.
func across(soft, degrees float64) func(u, v float64) float64 {
	sn, cs := math.Sincos(degrees * math.Pi / 180)
	return func(u, v float64) float64 { return 1 + soft*(u*cs+v*sn)*(u*cs+v*sn) }
}

// What bright stars tell counts by their errors: a corner a fifth softer is found by forty of
// them beside hundreds whose widths are off by a third, as often as not one without them is not.
func TestCombineByErrors(t *testing.T) {
	for seed := range uint64(12) {
		for _, soft := range []float64{0, 0.15, 0.25} {
			rng := rand.New(rand.NewPCG(seed, 81))
			var fields []*stars.Field
			for range 8 {
				f := &stars.Field{Width: 1000, Height: 800, FWHM: stats.Known(3, 0.02, 300)}
				for k := range 300 {
					err := 0.3
					if k < 40 {
						err = 0.02
					}
					x, y := rng.Float64()*999, rng.Float64()*799
					u, v := 2*x/999-1, 2*y/799-1
					f.Stars = append(f.Stars, stars.Star{X: x, Y: y, Fitted: true, FWHMErr: 3 * err, FWHM: 3 * (1 + soft*(u*u+v*v)/2) * (1 + err*rng.NormFloat64())})
				}
				fields = append(fields, f)
			}
			_, got, _ := Combine(fields)
			if found := len(got) == 1 && got[0].Code == stars.CornersSoft; found != (soft > 0) || len(got) > 1 {
				t.Errorf("corners softer by %g, seed %d: %v", soft, seed, got)
			}
		}
	}
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
		{"tilt in focus in the middle", across(0.12, 45), still, []string{"facing_soft(places=lower_left_and_upper_right"}},
		{"the same, falling", across(0.3, 120), still, []string{"facing_soft(places=upper_left_and_lower_right"}},
		{"the same, to the sides", across(0.2, 10), still, []string{"facing_soft(places=left_and_right"}},
		{"the same, upwards", across(0.2, 90), still, []string{"facing_soft(places=lower_and_upper"}},
		{"the same, slight", across(0.03, 45), still, nil},
		{"the same in a curved field", func(u, v float64) float64 { return across(0.15, 45)(u, v) + 0.1*(u*u+v*v) }, still, []string{"facing_soft", "corners_soft"}},
		{"a tilt in focus near one corner", func(u, v float64) float64 { return 1 + 0.05*(u+v+1.2)*(u+v+1.2) }, still, []string{"upper_right_corner"}},
		{"tracking", even, func(u, v float64) (float64, float64) { return 0, 0.15 }, []string{"drawn_out_alike(ellipticity=0.1"}},
		{"coma", even, radial, []string{"drawn_from_middle"}},
		{"coma in the corners", even, func(u, v float64) (float64, float64) {
			x, y := radial(u, v)
			r := math.Hypot(u, v)
			return 0.45 * r * x, 0.45 * r * y
		}, []string{"drawn_from_middle(ellipticity=0.1"}},
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

// The same dozen stars in a dozen subs are no hundred and forty: what they differ by, and a
// neighbour that widens one, make no pattern of the optics.
func TestCombineOfTheSameStars(t *testing.T) {
	for _, n := range []int{8, 12, 20, 30} {
		found := 0
		const nights = 60
		for seed := range uint64(nights) {
			rng := rand.New(rand.NewPCG(seed, 84))
			sky := make([]stars.Star, n)
			for k := range sky {
				own := 1 + 0.02*rng.NormFloat64()
				if rng.Float64() < 0.07 {
					own += 0.2 * rng.Float64()
				}
				sky[k] = stars.Star{X: rng.Float64() * 999, Y: rng.Float64() * 799, Fitted: true, FWHM: 3 * own, FWHMErr: 0.03}
			}
			var fields []*stars.Field
			for range 12 {
				f := &stars.Field{Width: 1000, Height: 800, FWHM: stats.Known(3, 0.02, n), Stars: slices.Clone(sky)}
				for k := range f.Stars {
					f.Stars[k].FWHM += 0.03 * rng.NormFloat64()
				}
				fields = append(fields, f)
			}
			if _, got, _ := Combine(fields); got != nil {
				found++
			}
		}
		// One of sixty nights may have two odd stars in one corner.
		if found > 1 {
			t.Errorf("%d stars: a pattern in %d of %d nights", n, found, nights)
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
