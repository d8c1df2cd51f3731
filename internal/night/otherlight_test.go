package night

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// litSub is a sub of which no more is known than stars' light and sky, times the usual.
func litSub(rng *rand.Rand, light, sky float64) *Sub {
	s := &Sub{Sub: &subs.Sub{Filter: "Ha", Exposure: 60, Calibrated: true, ElectronsPerADU: 1}}
	s.Transparency.Ratio = stats.Known(light*(1+0.02*rng.NormFloat64()), 0.02*light, 50)
	s.SkyADU = stats.Known(200*sky*(1+0.03*rng.NormFloat64()), 1, 500)
	return s
}

// Where stars and sky have another light alike, it is another filter or exposure; what a
// cloud takes, at a dark site or lit, or after dusk, and what comes into the beam is not.
func TestOtherLight(t *testing.T) {
	for _, c := range []struct {
		what  string
		light func(i int) (light, sky float64) // of the i-th of 20 subs
		dim   int                              // subs, 0: not parted
	}{
		{"broad for narrow from the 14th on", func(i int) (float64, float64) {
			if i < 13 {
				return 0.11, 0.06
			}
			return 1, 1
		}, 13},
		{"three a tenth as long", func(i int) (float64, float64) {
			if i == 4 || i == 5 || i == 11 {
				return 0.1, 0.1
			}
			return 1, 1
		}, 3},
		{"two a tenth as long", func(i int) (float64, float64) {
			if i == 4 || i == 5 {
				return 0.1, 0.1
			}
			return 1, 1
		}, 0},
		{"one ten times as long", func(i int) (float64, float64) {
			if i == 7 {
				return 1, 1
			}
			return 0.1, 0.1
		}, 19},
		{"two ten times as long", func(i int) (float64, float64) {
			if i == 7 || i == 15 {
				return 1, 1
			}
			return 0.1, 0.1
		}, 18},
		{"one clear of ten under steady cloud over a town", func(i int) (float64, float64) {
			if i == 7 {
				return 1, 1
			}
			return 0.1, 1.3
		}, 0},
		{"one clear of ten, in dawn", func(i int) (float64, float64) {
			if i == 19 {
				return 1, 7
			}
			return 0.1, 1
		}, 0},
		{"a steady cloud at a dark site", func(i int) (float64, float64) {
			if i > 8 {
				return 0.15, 0.6
			}
			return 1, 1
		}, 0},
		{"a steady cloud over a town", func(i int) (float64, float64) {
			if i > 8 {
				return 0.15, 2
			}
			return 1, 1
		}, 0},
		{"dusk, then cloud", func(i int) (float64, float64) {
			if i > 5 {
				return 0.3, 0.8
			}
			return 1, 1 + 8/float64(i+1)
		}, 0},
		{"a dome comes into the beam", func(i int) (float64, float64) {
			if i > 12 {
				left := 1 - float64(i-12)*0.12
				return left, left
			}
			return 1, 1
		}, 0},
		{"clear", func(int) (float64, float64) { return 1, 1 }, 0},
		{"one half as bright again in stars, not in sky", func(i int) (float64, float64) {
			if i == 7 {
				return 1.6, 1.2
			}
			return 1, 1
		}, 0},
	} {
		rng := rand.New(rand.NewPCG(7, 7))
		var group []*Sub
		for i := range 20 {
			group = append(group, litSub(rng, first(c.light(i)), second(c.light(i))))
		}
		dim, bright, times := heaps(group)
		if len(dim) != c.dim || c.dim > 0 && (len(dim)+len(bright) != 20 || times < 8 || times > 11) {
			t.Errorf("%s: %d dim, %d bright, %g times", c.what, len(dim), len(bright), times)
		}
	}
}

// A cap before a part of the aperture dims all stars alike, and the subs take as long as their
// headers tell: it is no filter, which colours tell of, and no shorter exposure.
func TestCapIsNoOtherLight(t *testing.T) {
	for _, c := range []struct {
		scatter, apart float64 // of the dim ones' stars; s from sub to sub
		dim            int
	}{{0.03, 65, 0}, {0.15, 65, 7}, {0.03, 20, 7}} {
		rng := rand.New(rand.NewPCG(7, 8))
		var group []*Sub
		for i := range 20 {
			s := litSub(rng, 1, 1)
			if i > 4 && i < 12 {
				s = litSub(rng, 0.2, 0.2)
				s.Transparency.Scatter = c.scatter
			}
			s.Start = time.Date(2026, 1, 2, 3, 4, int(float64(i)*c.apart), 0, time.UTC)
			group = append(group, s)
		}
		if dim, _, _ := heaps(group); len(dim) != c.dim {
			t.Errorf("%+v: %d dim", c, len(dim))
		}
	}
}

func first(a, _ float64) float64  { return a }
func second(_, b float64) float64 { return b }

// Panels of a mosaic under one name are compared among themselves; a pointing that drifts
// by as much, or is dithered wildly, is one field.
func TestPanelsUnderOneName(t *testing.T) {
	sky := skyOf(5)
	at := func(seed uint64, x, y float64) *Sub {
		moved := append(sky[:0:0], sky...)
		for i := range moved {
			moved[i].X, moved[i].Y = moved[i].X-x, moved[i].Y-y
		}
		return viewOfSky(moved, seed, 800, 600, 1, 1, 3)
	}
	for _, c := range []struct {
		what  string
		point func(i int) (x, y float64)
		want  map[string]int
	}{
		{"two panels side by side", func(i int) (float64, float64) { return 680*float64(i/6) - 340, 0 }, map[string]int{"Heron Nebula": 6, "Heron Nebula field 2": 6}},
		{"a corner in common", func(i int) (float64, float64) { return 560*float64(i%2) - 280, 420*float64(i%2) - 210 }, map[string]int{"Heron Nebula": 6, "Heron Nebula field 2": 6}},
		{"drift", func(i int) (float64, float64) { return 55*float64(i) - 300, 0 }, map[string]int{"Heron Nebula": 12}},
		{"wild dither", func(i int) (float64, float64) { return 150 * float64(i%3), 100 * float64(i%2) }, map[string]int{"Heron Nebula": 12}},
	} {
		r := &Result{Sorted: &frames.Sorted{}}
		for i := range 12 {
			x, y := c.point(i)
			r.Subs = append(r.Subs, at(uint64(i), x, y))
		}
		r.align(nil)
		r.partFields(nil)
		got := map[string]int{}
		for _, s := range r.Subs {
			got[string(s.Target)]++
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) || r.Subs[0].Target != "Heron Nebula" {
			t.Errorf("%s: %v, want %v, the first of them %s", c.what, got, c.want, r.Subs[0].Target)
		}
	}
}
