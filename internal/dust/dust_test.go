package dust

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
)

// dusty is a night through a dusty telescope, made on the cells of the small
// pictures: a cell's noise is that of its pixels' mean.
type dusty struct {
	seed     uint64
	flat     []Shadow // dust when the flats were shot
	sub      []Shadow // dust when the subs were
	sky      float64  // e- per pixel and sub
	subs     int
	dither   float64 // px, largest shift along x and y
	nebula   float64 // height over the sky, of a field full of it
	galaxies []Spot  // as bright as the sky at their middle, fixed to the stars
	stray    float64 // light that did not come through the telescope, over the sky
	flipAt   int     // first sub after a pier flip; 0: none
	flatAt   float64 // e- per pixel of the master flat
	uneven   float64 // by which cells answer unlike, in flat and subs
	w, h     int     // cells; dustyW, dustyH when 0
	stars    int     // 900 when 0
	moon     float64 // light of the telescope's inside, over the sky: as curved as the frame is wide, fixed to the sensor
	drift    float64 // px a sub, along one line
	pattern  float64 // of cells, over the sky, fixed to the sensor
	columns  float64 // the same of columns
	unlike   float64 // by which the flat's corners are lit otherwise
	band     float64 // light lost along one edge that the flat has not
	glow     float64 // in a corner, over the sky
}

const (
	dustyW, dustyH, dustyStep = 320, 240, 4
	dustyRead                 = 2.0 // e-
)

// light is how much of it dust and falloff let through at a place, px.
func light(dust []Shadow, x, y, w, h float64) float64 {
	dx, dy := x-0.52*w, y-0.49*h
	l := 1 - 0.2*(dx*dx+dy*dy)/(w*w+h*h)*4
	edge := func(d float64) float64 { return 1 / (1 + math.Exp(-d)) }
	for _, s := range dust {
		radius := s.Diameter / 2
		if max(math.Abs(x-s.X), math.Abs(y-s.Y)) > radius+12 {
			continue
		}
		if r := math.Hypot(x-s.X, y-s.Y); r < radius+12 {
			l *= 1 - s.DepthPct/100*edge(radius-r)*edge(r-0.3*radius)
		}
	}
	return l
}

func (n dusty) input() Input {
	rng := rand.New(rand.NewPCG(n.seed, 5))
	const step = dustyStep
	w, h := dustyW, dustyH
	if n.w > 0 {
		w, h = n.w, n.h
	}
	if n.stars == 0 {
		n.stars = 900
	}
	wide, high := float64(w*step), float64(h*step)
	at := func(i int) (float64, float64) {
		return float64(i%w*step) + (step-1)/2.0, float64(i/w*step) + (step-1)/2.0
	}
	if n.flatAt == 0 {
		n.flatAt = 300_000
	}
	flat := &frames.Preview{Width: w, Height: h, Step: step, Pixels: make([]float32, w*h)}
	through, fixed, columns := make([]float64, w*h), make([]float64, w*h), make([]float64, w)
	for i := range columns {
		columns[i] = n.columns * rng.NormFloat64()
	}
	for i := range through {
		x, y := at(i)
		flat.Pixels[i] = float32(light(n.flat, x, y, wide, high) + rng.NormFloat64()/math.Sqrt(n.flatAt)/step)
		response := 1.0
		if n.uneven > 0 {
			response += n.uneven * rng.NormFloat64()
			flat.Pixels[i] *= float32(response)
		}
		u, v := x/wide, y/high
		through[i] = light(n.sub, x, y, wide, high) * (1 + n.unlike*((u-0.5)*(u-0.5)+(v-0.3)*(v-0.3)))
		through[i] *= response * (1 - n.band/(1+math.Exp((x-30)/8)))
		fixed[i] = n.moon*math.Pow(math.Hypot(u-0.2, v-0.7), 1.5) + n.pattern*rng.NormFloat64() + columns[i%w] + n.glow*math.Exp(-((1-u)*(1-u)+v*v)/0.03)
	}
	type star struct{ x, y, flux float64 }
	stars := make([]star, n.stars)
	for i := range stars {
		// As many fainter as the counts of the sky have: ten times for 2.5 mag.
		stars[i] = star{wide * (1.2*rng.Float64() - 0.1), high * (1.2*rng.Float64() - 0.1), 300 * math.Pow(rng.Float64(), -1)}
	}
	var waves [12][4]float64
	for k := range waves {
		waves[k] = [4]float64{0.015 * rng.NormFloat64(), 0.015 * rng.NormFloat64(), 2 * math.Pi * rng.Float64(), 1 / float64(len(waves))}
	}
	in := Input{Lights: &frames.Group{Kind: frames.Light, Target: "Field", Filter: "L", Exposure: 60}}
	for k := range n.subs {
		dx, dy := n.dither*(2*rng.Float64()-1)+n.drift*float64(k), n.dither*(2*rng.Float64()-1)+0.6*n.drift*float64(k)
		turn := 1.0
		if n.flipAt > 0 && k >= n.flipAt {
			turn = -1
		}
		cx, cy := (wide-1)/2, (high-1)/2
		toSky := func(x, y float64) (float64, float64) { return cx + turn*(x-cx-dx), cy + turn*(y-cy-dy) }
		fromSky := func(u, v float64) (float64, float64) { return cx + dx + turn*(u-cx), cy + dy + turn*(v-cy) }
		slope, slope2, level := 0.1*(rng.Float64()-0.5), 0.1*(rng.Float64()-0.5), n.sky*(0.9+0.4*rng.Float64())
		e, nebula := make([]float64, w*h), make([]float64, w*h)
		for y := 0; n.nebula > 0 && y < h; y++ {
			u, v := toSky(at(y * w))
			for _, wave := range waves { // turned on from cell to cell along the row
				sin, cos := math.Sincos(wave[0]*u + wave[1]*v + wave[2])
				ds, dc := math.Sincos(wave[0] * turn * step)
				for x := range w {
					nebula[y*w+x] += wave[3] * sin
					sin, cos = sin*dc+cos*ds, cos*dc-sin*ds
				}
			}
		}
		for i := range e {
			x, y := at(i)
			u, v := toSky(x, y)
			sky := 1 + slope*(x/wide-0.5) + slope2*(y/high-0.5) + n.nebula*nebula[i]*nebula[i]*4
			for _, g := range n.galaxies {
				d := math.Hypot(u-g.X, v-g.Y) / g.Radius
				sky += math.Exp(-d * d)
			}
			e[i] = level * sky
		}
		s := Sub{Noise: math.Sqrt(level) / level, ToSky: toSky, FromSky: fromSky}
		for _, st := range stars {
			x, y := fromSky(st.x, st.y)
			i, j := int(math.Round((x-1.5)/step)), int(math.Round((y-1.5)/step))
			var along [7]float64
			for di := range along {
				px, _ := at(i + di - 3)
				along[di] = st.flux / (2 * math.Pi * 4) * math.Exp(-(px-x)*(px-x)/8)
			}
			for q := max(0, j-3); q <= min(h-1, j+3); q++ {
				_, py := at(q * w)
				across := math.Exp(-(py - y) * (py - y) / 8)
				for p := max(0, i-3); p <= min(w-1, i+3); p++ {
					e[q*w+p] += along[p-i+3] * across
				}
			}
			if st.flux > 5*math.Sqrt(50*(level+dustyRead*dustyRead)) { // bright enough to be found
				s.Stars = append(s.Stars, Spot{x, y, 6})
			}
		}
		picture := &frames.Preview{Width: w, Height: h, Step: step, Pixels: make([]float32, w*h)}
		for i := range e {
			signal := e[i]*through[i] + (n.stray+fixed[i])*level
			noise := math.Sqrt(signal+dustyRead*dustyRead) / step * rng.NormFloat64()
			picture.Pixels[i] = float32((signal + noise) / float64(flat.Pixels[i]))
		}
		s.Width, s.Height, s.Step, s.Preview = w, h, step, func() *frames.Preview { return picture }
		in.Subs = append(in.Subs, s)
	}
	in.Flat, in.Picture, in.FlatNoise = "flat L", flat, 1/math.Sqrt(n.flatAt)
	in.Shadows = n.shadows(flat)
	return in
}

// flatShadows are the shadows of flats by how they were made: most conditions of a
// night leave its flat as it is.
var flatShadows sync.Map

func (n dusty) shadows(flat *frames.Preview) []Shadow {
	made := fmt.Sprint(n.seed, n.flatAt, n.uneven, n.flat, flat.Width, flat.Height)
	if known, ok := flatShadows.Load(made); ok {
		return slices.Clone(known.([]Shadow))
	}
	s, _ := Shadows(mapOf(flat))
	flatShadows.Store(made, slices.Clone(s))
	return s
}

// grains are seven shadows, one of them faint and one large; those of a filter.
func grains(seed uint64) []Shadow {
	rng := rand.New(rand.NewPCG(seed, 9))
	at := [][2]float64{{200, 180}, {480, 260}, {800, 170}, {1090, 300}, {250, 640}, {640, 560}, {980, 720}}
	depth := []float64{5, 3, 2, 4, 2.5, 6, 1.5}
	diameter := []float64{56, 72, 60, 68, 64, 96, 56}
	var s []Shadow
	for i, p := range at {
		s = append(s, Shadow{X: p[0] + 60*(rng.Float64()-0.5), Y: p[1] + 60*(rng.Float64()-0.5), Diameter: diameter[i], DepthPct: depth[i]})
	}
	return s
}

// moved are the shadows after the camera moved against them.
func moved(s []Shadow, degrees, dx, dy, wider float64) []Shadow {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	const cx, cy = (dustyW*dustyStep - 1) / 2.0, (dustyH*dustyStep - 1) / 2.0
	out := append([]Shadow{}, s...)
	for i := range out {
		x, y := s[i].X-cx, s[i].Y-cy
		out[i].X, out[i].Y = cx+cos*x-sin*y+dx, cy+sin*x+cos*y+dy
		out[i].Diameter *= wider
	}
	return out
}

func clean(seed uint64) dusty {
	g := grains(seed)
	return dusty{seed: seed, flat: g, sub: g, sky: 300, subs: 14, dither: 9}
}

func TestDustMatch(t *testing.T) {
	t.Parallel()
	const seed = 1
	g := grains(seed)
	for _, c := range []struct {
		name   string
		change func(n *dusty)
		check  func(t *testing.T, d Match)
	}{
		{"in place", func(n *dusty) {}, matches},
		{"in place, faint flat", func(n *dusty) { n.flatAt = 3000 }, nothingWrong},
		{"in place, faintest flat", func(n *dusty) { n.flatAt = 50 }, nothingWrong},
		{"in place, uneven pixels", func(n *dusty) { n.uneven = 0.01 }, nothingWrong},
		{"cleaned, faint flat", func(n *dusty) { n.flatAt, n.sub = 3000, nil }, func(t *testing.T, d Match) {
			if d.Wrong < 4 || d.Wrong != d.Told { // the shallowest drown in the flat's noise
				t.Errorf("%d of %d told are wrong, all are gone", d.Wrong, d.Told)
			}
		}},
		{"in place, nebula", func(n *dusty) { n.nebula = 0.3 }, nothingWrong},
		{"in place, galaxies", func(n *dusty) {
			// As wide as the shadows, on and beside them.
			n.galaxies = []Spot{{g[0].X, g[0].Y, 25}, {g[5].X + 10, g[5].Y, 40}, {600, 400, 30}}
		}, nothingWrong},
		{"no dust", func(n *dusty) { n.flat, n.sub, n.nebula = nil, nil, 0.3 }, nothingWrong},
		{"no dither, galaxies", func(n *dusty) { n.dither, n.galaxies = 0, []Spot{{g[0].X, g[0].Y, 25}} }, nothingWrong},
		{"moved", func(n *dusty) { n.sub = moved(g, 0, 15, -4, 1) }, shifted(7, 0, 15, -4)},
		{"moved, nebula", func(n *dusty) { n.sub, n.nebula = moved(g, 0, 15, -4, 1), 0.1 }, shifted(5, 0, 15, -4)},
		{"moved, a pier flip", func(n *dusty) { n.sub, n.flipAt = moved(g, 0, 15, -4, 1), 7 }, shifted(7, 0, 15, -4)},
		{"moved far", func(n *dusty) { n.sub = moved(g, 0, -44, 60, 1) }, shifted(6, 0, -44, 60)},
		{"turned", func(n *dusty) { n.sub = moved(g, 5, 8, 3, 1) }, shifted(5, 5, 8, 3)},
		{"wider", func(n *dusty) { n.sub = moved(g, 0, 12, 12, 1.2) }, wider(1.2)},
		{"cleaned", func(n *dusty) { n.sub = nil }, gone(7)},
		{"one cleaned", func(n *dusty) { n.sub = g[1:] }, gone(1)},
		{"new", func(n *dusty) { n.sub = append(g[:7:7], Shadow{X: 700, Y: 350, Diameter: 60, DepthPct: 2}) }, fresh(700, 350)},
		{"stray light", func(n *dusty) { n.stray = 0.8 }, partly(0.45)},
		{"faint sky", func(n *dusty) { n.sub, n.sky, n.subs = nil, 0.05, 8 }, cannotTell(ShadowFaint)},
		{"no dither", func(n *dusty) { n.sub, n.dither = nil, 0 }, cannotTell(DitherSmall)},
		{"few subs", func(n *dusty) { n.subs = 4 }, cannotTell(FewSubs)},
	} {
		if testing.Short() && !slices.Contains([]string{"moved", "new", "no dither"}, c.name) {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			n := clean(seed)
			c.change(&n)
			d := Compare(n.input())
			c.check(t, d)
			if t.Failed() {
				t.Logf("%v", d.Found)
				for _, s := range d.Shadows {
					t.Logf("%+v", s)
				}
			}
		})
	}
}

func nothingWrong(t *testing.T, d Match) {
	if d.Bad() {
		t.Errorf("%d wrong, %d new, %v", d.Wrong, len(d.New), d.Why)
	}
}

func matches(t *testing.T, d Match) {
	nothingWrong(t, d)
	if d.Why.Code != "" || d.Told != 7 || len(d.Shadows) != 7 {
		t.Errorf("%d of %d told, want 7", d.Told, len(d.Shadows))
	}
}

// shifted wants the motion within two pixels, half a cell: the design's word
// for a shift of dust.
func shifted(fewest int, degrees, dx, dy float64) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		n := 0
		for _, s := range d.Shadows {
			if s.State == ShadowMoved {
				n++
			}
		}
		if n < fewest || len(d.New) > 0 {
			t.Errorf("%d moved, want %d; %d new", n, fewest, len(d.New))
		}
		if !(math.Abs(d.ShiftX.V-dx) < 2 && math.Abs(d.ShiftY.V-dy) < 2 && math.Abs(d.RotationDeg.V-degrees) < 0.5) {
			t.Errorf("shift %+v %+v, rotation %+v", d.ShiftX, d.ShiftY, d.RotationDeg)
		}
		if !has(d, Moved) {
			t.Errorf("%v", d.Found)
		}
		if says := has(d, MovedWithTurn); says != (degrees != 0) {
			t.Errorf("%v", d.Found)
		}
		if !(math.Abs(d.DiameterRatio.V-1) <= 0.05) || has(d, Widened) {
			t.Errorf("ratio %+v", d.DiameterRatio)
		}
	}
}

func wider(ratio float64) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		if !(math.Abs(d.DiameterRatio.V-ratio) < 0.06) || !has(d, Widened) {
			t.Errorf("ratio %+v, %v", d.DiameterRatio, d.Found)
		}
	}
}

func gone(n int) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		k := 0
		for _, s := range d.Shadows {
			if s.State == ShadowGone {
				k++
				// Divided by 1 - depth, with a fifth for the averaging of cells and the soft edge.
				if want := s.DepthPct / (1 - s.DepthPct/100); !(math.Abs(s.ResiduePct.V-want) <= 0.2*want+0.2) {
					t.Errorf("leaves %.2f %%, want %.2f", s.ResiduePct.V, want)
				}
			}
		}
		if k != n || d.Wrong != n || len(d.New) > 0 {
			t.Errorf("%d gone, %d wrong, want %d; %d new", k, d.Wrong, n, len(d.New))
		}
	}
}

func fresh(x, y float64) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		if d.Wrong != 0 || len(d.New) != 1 || math.Hypot(d.New[0].X-x, d.New[0].Y-y) > 4 {
			t.Errorf("%d wrong, new %+v", d.Wrong, d.New)
		}
	}
}

func partly(imprint float64) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		if d.Wrong != 7 || !has(d, AllTooMuch) {
			t.Errorf("%v", d.Found)
		}
		for _, s := range d.Shadows {
			if !(math.Abs(s.Imprint.V-imprint) <= 0.1) {
				t.Errorf("imprint %+v, want %g", s.Imprint, imprint)
			}
		}
	}
}

func cannotTell(why fact.Code) func(*testing.T, Match) {
	return func(t *testing.T, d Match) {
		if d.Bad() || d.Why.Code != why || d.Found.Code != Untold || d.WorstPct.OK() {
			t.Errorf("%v, %d wrong, %d new", d.Why, d.Wrong, len(d.New))
		}
	}
}

// What the comparison costs a night: once a group of subs, from pictures that
// are there already.
func BenchmarkMatchDust(b *testing.B) {
	still, shifted := clean(1), clean(1)
	shifted.sub = moved(shifted.flat, 0, 15, -4, 1)
	for _, c := range []struct {
		name string
		in   Input
	}{{"in place", still.input()}, {"moved", shifted.input()}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				Compare(c.in)
			}
		})
	}
}

// has tells whether a clause, or a code in one of its places, is in what was found.
func has(d Match, code fact.Code) bool {
	for _, v := range d.Found.Values {
		if slices.Contains(strings.Fields(v.Text), string(code)) {
			return true
		}
	}
	return false
}
