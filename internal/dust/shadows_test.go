package dust

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// A made flat: falloff, and what is drawn on it, with the noise of its cells.
type drawn struct {
	w, h, step int
	falloff    float64
	noise      float64 // of a cell
	seed       uint64
	specks     []Shadow                         // rings with soft edges, or brighter ones where the depth is negative
	also       func(x, y, w, h float64) float64 // light let through, px
}

func (d drawn) flat() stats.Map {
	rng := rand.New(rand.NewPCG(d.seed, 3))
	m := stats.Map{Width: d.w, Height: d.h, Step: d.step, Values: make([]float64, d.w*d.h)}
	wide, high := float64(d.w*d.step), float64(d.h*d.step)
	for k := range m.Values {
		x, y := m.Centre(k%d.w, k/d.w)
		u, v := x/wide-0.55, y/high-0.48
		r2 := u*u + v*v
		light := 1 - d.falloff*(1.6*r2+1.2*r2*r2) // as cos⁴ and a tube that cuts the corners
		for _, s := range d.specks {
			r, radius := math.Hypot(x-s.X, y-s.Y), s.Diameter/2
			edge := func(z float64) float64 { return 1 / (1 + math.Exp(-z/2)) } // 2 px soft
			light *= 1 - s.DepthPct/100*edge(radius-r)*edge(r-0.4*radius)
		}
		if d.also != nil {
			light *= d.also(x, y, wide, high)
		}
		m.Values[k] = light * (1 + d.noise*rng.NormFloat64())
	}
	return m
}

func speck(x, y, diameter, depth float64) Shadow {
	return Shadow{X: x, Y: y, Diameter: diameter, DepthPct: depth}
}

// Shadows of every size and depth in flats of any falloff, each once, at its
// place: with truth.
func TestShadowsOfFlats(t *testing.T) {
	t.Parallel()
	wanted, missed, seeds := 0, 0, uint64(12)
	if testing.Short() {
		seeds = 3
	}
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 1))
		d := drawn{w: 300, h: 200, step: 6, falloff: 0.1 + 0.5*rng.Float64(), noise: 0.0007, seed: seed}
		// 0.4 % is six times the noise of a cell, that of a flat of 2 million electrons
		// a cell: 36 pixels of 55000.
		for _, s := range [][2]float64{{50, 0.45}, {80, 0.4}, {200, 0.4}, {200, 2}, {36, 3}, {110, 7}} {
			for try := 0; ; try++ {
				x, y := 0.7*s[0]+(1800-1.4*s[0])*rng.Float64(), 0.7*s[0]+(1200-1.4*s[0])*rng.Float64()
				free := true
				for _, o := range d.specks {
					free = free && math.Hypot(x-o.X, y-o.Y) > 0.9*(s[0]+o.Diameter)
				}
				if free || try > 200 {
					d.specks = append(d.specks, speck(x, y, s[0], s[1]))
					break
				}
			}
		}
		found, _ := Shadows(d.flat())
		if len(found) > len(d.specks) {
			t.Errorf("seed %d: %d shadows for %d: %+v", seed, len(found), len(d.specks), found)
		}
		for _, want := range d.specks {
			wanted++
			near := false
			for _, got := range found {
				// Within a cell; the width within a sixth and a cell; the depth of the
				// narrowest rings, two cells wide, is a fifth less in their means.
				off := math.Hypot(got.X-want.X, got.Y-want.Y)
				near = near || off < 6+want.Diameter/25 && math.Abs(got.Diameter-want.Diameter) < want.Diameter/6+6 && math.Abs(got.DepthPct-want.DepthPct) < 0.2*want.DepthPct+0.05
			}
			if !near {
				missed++
				t.Logf("seed %d: missed %+v", seed, want)
			}
		}
	}
	if missed > 0 {
		t.Errorf("%d of %d missed", missed, wanted)
	}
}

// What is no dust: bands along edges, steps, brighter places, columns, corners
// that are cut off, and the falloff alone.
func TestWhatIsNoShadow(t *testing.T) {
	t.Parallel()
	edge := func(z float64) float64 { return 1 / (1 + math.Exp(-z)) }
	for name, d := range map[string]drawn{
		"falloff":       {},
		"steep falloff": {falloff: 0.9},
		"brighter":      {specks: []Shadow{speck(400, 300, 120, -3), speck(900, 600, 60, -1), speck(1300, 800, 200, -5)}},
		"edge band":     {also: func(x, y, w, h float64) float64 { return 1 - 0.1*edge((60-x)/10) }},
		"bands":         {also: func(x, y, w, h float64) float64 { return 1 - 0.02*edge((40-y)/15) - 0.05*edge((x-w+90)/20) }},
		"cut corner":    {also: func(x, y, w, h float64) float64 { return 1 - 0.3*edge((300-x-y)/20) }},
		"step":          {also: func(x, y, w, h float64) float64 { return 1 - 0.01*edge((x-700)/3) }},
		"column":        {also: func(x, y, w, h float64) float64 { return 1 - 0.02*edge((6-math.Abs(x-900))*2) }},
		"fibre": {also: func(x, y, w, h float64) float64 {
			return 1 - 0.02*edge((10-math.Abs(x-900))/2)*edge((80-math.Abs(y-500))/2)
		}},
		"half outside": {specks: []Shadow{speck(5, 500, 160, 3)}},
	} {
		d.w, d.h, d.step, d.noise = 300, 200, 6, 0.0007
		if d.falloff == 0 {
			d.falloff = 0.3
		}
		for seed := range uint64(2) {
			if testing.Short() && seed > 0 {
				break
			}
			d.seed = seed
			if found, _ := Shadows(d.flat()); len(found) > 0 {
				t.Errorf("%s: %+v", name, found)
			}
		}
	}
	if _, ok := Shadows(stats.Map{Width: 20, Height: 40}); ok {
		t.Error("a frame of 20 cells is large enough")
	}
}

// The same shadow in the flats of all filters is on the sensor's window, one of a
// single filter on that; with one filter, or where another's shadow lies over the
// place, nothing is told.
func TestSeatOfDust(t *testing.T) {
	t.Parallel()
	window := []Shadow{speck(400, 300, 50, 2), speck(1200, 700, 110, 1)}
	var flats []Flat
	for i, filter := range []string{"L", "R", "Ha"} {
		d := drawn{w: 300, h: 200, step: 6, falloff: 0.2 + 0.1*float64(i), noise: 0.0007, seed: uint64(i)}
		d.specks = append(append(d.specks, window...), speck(700+250*float64(i), 250, 80, 3))
		if filter == "Ha" {
			d.specks = append(d.specks, speck(1240, 720, 120, 4)) // over a grain on the window
		}
		m := d.flat()
		picture := &frames.Preview{Width: m.Width, Height: m.Height, Step: m.Step}
		for _, v := range m.Values {
			picture.Pixels = append(picture.Pixels, float32(v))
		}
		shadows, _ := Shadows(m)
		flats = append(flats, Flat{filter, picture, shadows})
	}
	Seat(flats[:1])
	for _, s := range flats[0].Shadows {
		if s.On != "" {
			t.Errorf("one filter tells that %+v", s)
		}
	}
	Seat(flats)
	for i, f := range flats[:2] {
		if len(f.Shadows) != 3 {
			t.Errorf("%s: %+v", f.Filter, f.Shadows)
		}
		for _, s := range f.Shadows {
			want := onFilter
			switch {
			case math.Hypot(s.X-400, s.Y-300) < 10:
				want = onWindow
			case math.Hypot(s.X-1200, s.Y-700) < 10:
				want = ""
			case math.Hypot(s.X-700-250*float64(i), s.Y-250) > 10:
				t.Errorf("%+v", s)
			}
			if s.On != want {
				t.Errorf("%s: %+v, want on %q", f.Filter, s, want)
			}
		}
	}
}
