package worth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stats"
)

// glowSubs are subs of so many e- of glow in the upper right corner, under nebulae of
// which one reaches into that corner, too.
func glowSubs(seed uint64, glow, nebula float64, shift func(k int) (x, y float64)) *Seen {
	const width, height, subs, noise = 480, 320, 14, 4
	r := rand.New(rand.NewPCG(seed, 9))
	all := make([]int, height)
	for y := range all {
		all[y] = y
	}
	s := NewSeen(width, height, all, height, false)
	sub := make([]float32, width*height)
	blob := func(x, y, cx, cy, size float64) float64 {
		return math.Exp(-((x-cx)*(x-cx) + (y-cy)*(y-cy)) / (2 * size * size))
	}
	for k := range subs {
		dx, dy := shift(k)
		level := 30 + 5*r.Float64()
		for i := range sub {
			x, y := float64(i%width), float64(i/width)
			sky := nebula * (blob(x+dx, y+dy, 200, 150, 60) + 0.4*blob(x+dx, y+dy, 470, 290, 45) + 0.3*blob(x+dx, y+dy, 30, 20, 25))
			sub[i] = float32(level + 0.005*x + sky + glow*blob(x, y, width, height, 24) + noise*r.NormFloat64())
		}
		s.Add(sub, &Place{A: 1, C: dx, E: 1, F: dy})
	}
	return s
}

// A glow is told from nebulae at the same edge by what does not move with the sky.
func TestGlowOfKnownHeight(t *testing.T) {
	still := func(int) (x, y float64) { return 0, 0 }
	for i, c := range []struct {
		glow, nebula float64
		shift        func(int) (float64, float64)
		seen         bool
	}{
		{0, 0, dithered, false}, {0, 40, dithered, false}, {4, 0, dithered, true}, {10, 40, dithered, true},
		{15, 15, dithered, true}, {15, 0, drifting, true}, {4, 40, still, false}, {0, 40, still, false},
	} {
		t.Run(fmt.Sprintf("glow of %g e- under a nebula of %g, %d", c.glow, c.nebula, i), func(t *testing.T) {
			if testing.Short() && i != 1 && i != 3 {
				t.Skip("a nebula alone, and with a glow in it, are enough")
			}
			t.Parallel()
			g := glowSubs(uint64(i), c.glow, c.nebula, c.shift).glow()
			t.Logf("%+v", g)
			if g.Height.OK() != c.seen {
				t.Errorf("seen %v, want %v", g.Height.OK(), c.seen)
			}
			// The highest cell is 16 px wide and 8 px off the corner each way: 0.87 of the height there.
			if top := 0.87 * c.glow; c.seen && math.Abs(g.Height.V-top) > 3*g.Height.Err {
				t.Errorf("%v e-, truth %.2f", g.Height, top)
			}
			if c.seen && g.Place != sensor.UpperRight {
				t.Errorf("in the %s", g.Place)
			}
			if g.AtMost < 0.87*c.glow {
				t.Errorf("a glow of %.2f e- is said to be under %.2f", c.glow, g.AtMost)
			}
		})
	}
}

// A flat that does not fit leaves all corners bright, and is no glow.
func TestFlatThatDoesNotFitIsNoGlow(t *testing.T) {
	const width, height, noise = 480, 320, 4
	rows := make([]int, height)
	for y := range rows {
		rows[y] = y
	}
	s := NewSeen(width, height, rows, height, false)
	r := rand.New(rand.NewPCG(8, 8))
	sub := make([]float32, width*height)
	for k := range 14 {
		dx, dy := dithered(k)
		for i := range sub {
			x, y := float64(i%width)/width-0.5, float64(i/width)/height-0.5
			sub[i] = float32(100*(1+0.5*math.Pow(x*x+y*y, 2)) + noise*r.NormFloat64())
		}
		s.Add(sub, &Place{A: 1, C: dx, E: 1, F: dy})
	}
	if g := s.glow(); g.Height.OK() || g.AtMost < 5 {
		t.Errorf("%+v", g)
	}
	corners := func(err float64, heights ...float64) (all [][]trial) {
		for _, h := range heights {
			all = append(all, []trial{{scale: 0.05, height: h, chance: err}})
		}
		return all
	}
	if flatsCorners(corners(0.5, 9, 1, 1, 1)) || flatsCorners(corners(0.5, 9, 8, 0, 0)) || !flatsCorners(corners(0.5, 9, 8, 7, 0)) {
		t.Error("one or two corners may glow, three are a flat's")
	}
	if !flatsCorners(corners(1.5, 9, 1, 1, 1)) || flatsCorners(corners(3, 9, 8, 7, 7)) {
		t.Error("corners that may be as bright are a flat's, if one is sure")
	}
}

// Of a large frame of a colour sensor some blocks of rows are looked at, and tell it, too.
func TestGlowInBlocksOfMosaic(t *testing.T) {
	if testing.Short() {
		t.Skip("blocks of 1.9 megapixels; the tests above have whole frames")
	}
	const width, height, block, noise, glow = 1600, 1200, 64, 4, 12
	var rows []int
	for _, first := range []int{0, 568, 1136} {
		for y := range block {
			rows = append(rows, first+y)
		}
	}
	s := NewSeen(width, height, rows, block, true)
	r := rand.New(rand.NewPCG(3, 3))
	sub := make([]float32, width*len(rows))
	for k := range 12 {
		dx, dy := dithered(k)
		for i := range sub {
			x, y := float64(i%width), float64(rows[i/width])
			colour := float64(10 * (i%2 + i/width%2)) // red, green and blue skies
			shape := ((x-width)*(x-width) + (y-height)*(y-height)) / (2 * 80 * 80)
			sub[i] = float32(40 + colour + 8*math.Sin((x+dx)/150) + glow*math.Exp(-shape) + noise*r.NormFloat64())
		}
		s.Add(sub, &Place{A: 1, C: dx, E: 1, F: dy})
	}
	g := s.glow()
	t.Logf("%+v", g)
	if !g.Height.OK() || !(math.Abs(g.Height.V-glow) <= 3*g.Height.Err) || g.Place != sensor.UpperRight {
		t.Errorf("%+v, truth %d e- in the upper right corner", g, glow)
	}
}

// What one group tells of the glow holds for others of the camera, by the exposure.
func TestGlowIsShared(t *testing.T) {
	mode := func(name names.Name) sensor.Mode {
		return sensor.Mode{Camera: name, BinX: 1, BinY: 1, GainSetting: 100}
	}
	none := stats.Missing("not told")
	narrow := &Input{Camera: mode("A"), Exposure: 300, Found: &Found{Glow: SeenGlow{stats.Known(3, 0.3, 14), 4, sensor.Upper, 100}}}
	broad := &Input{Camera: mode("A"), Exposure: 60, Found: &Found{Glow: SeenGlow{none, 12, sensor.Left, 50}}}
	other := &Input{Camera: mode("B"), Exposure: 60, Found: &Found{Glow: SeenGlow{none, 12, sensor.Left, 50}}}
	dim := &Input{Camera: mode("B"), Exposure: 120, Found: &Found{Glow: SeenGlow{none, 2, "", 50}}}
	ShareGlow([]*Input{broad, narrow, other, dim})
	if g := broad.Found.Glow; !(math.Abs(g.Height.V-0.6) <= 1e-9) || g.Place != sensor.Upper {
		t.Errorf("%+v", g)
	}
	if g := other.Found.Glow; g.Height.OK() || g.AtMost != 1 {
		t.Errorf("%+v", g)
	}
}

// What brightens or fades in the course of the night while the sky drifts is no glow: the
// dark current of a sensor that cools, which the flat bends up at the corners, and a sky
// whose bend changes as the telescope follows its field down.
func TestWhatChangesAlongTheDriftIsNoGlow(t *testing.T) {
	const width, height, subs, noise = 480, 320, 14, 4
	rows := make([]int, height)
	for y := range rows {
		rows[y] = y
	}
	for _, c := range []struct {
		what             string
		dark, bend, glow float64 // e-: of the first sub, halved by the last; of the last sub, none in the first; highest
		shift            func(int) (x, y float64)
		seen             bool
	}{
		{"a sensor that cools", 80, 0, 0, drifting, false},
		{"a sky that bends", 0, 30, 0, drifting, false},
		{"both, and a glow", 50, 15, 40, dithered, true},
	} {
		t.Run(c.what, func(t *testing.T) {
			t.Parallel()
			var flat, bend, glow [width * height]float64
			for i := range flat {
				x, y := float64(i%width), float64(i/width)
				u, v := 2*x/width-1, (2*y-height)/width
				flat[i] = 1 - 0.35*(u*u+v*v)/1.44
				bend[i] = u*u + u*v + v*v
				glow[i] = c.glow * math.Exp(-((x-width)*(x-width)+(y-height)*(y-height))/(2*24*24))
			}
			s := NewSeen(width, height, rows, height, false)
			r := rand.New(rand.NewPCG(11, 4))
			sub := make([]float32, width*height)
			for k := range subs {
				dx, dy := c.shift(k)
				late := float64(k) / (subs - 1)
				dark := c.dark * math.Pow(2, -late)
				for i := range sub {
					sub[i] = float32(200 + c.bend*late*bend[i] + (dark+glow[i])/flat[i] + noise*r.NormFloat64())
				}
				s.Add(sub, &Place{A: 1, C: dx, E: 1, F: dy})
			}
			g := s.glow()
			t.Logf("%+v", g)
			if g.Height.OK() != c.seen {
				t.Errorf("seen %v, want %v", g.Height.OK(), c.seen)
			}
			// 0.87 in the middle of the highest cell, over the flat's 0.65 there.
			if top := 0.87 * c.glow / 0.65; c.seen && math.Abs(g.Height.V-top) > 3*g.Height.Err {
				t.Errorf("%v e-, truth %.1f", g.Height, top)
			}
		})
	}
}
