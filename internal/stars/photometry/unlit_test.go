package photometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stars/simulated"
	"fitsqa/internal/stats"
)

// shineOf fills a field's sky with a level of 300 that looks like so much of it at
// each place in fractions of the field.
func shineOf(f *stars.Field, rng *rand.Rand, look func(u, v float64) float64) {
	f.Sky, f.Noise = stats.Known(300, 0.1, 64), stats.Known(18, 0.1, 64)
	f.SkyParts = nil
	for k := range stars.SkyParts * stars.SkyParts {
		u, v := (float64(k%stars.SkyParts)+0.5)/stars.SkyParts, (float64(k/stars.SkyParts)+0.5)/stars.SkyParts
		f.SkyParts = append(f.SkyParts, 300*look(u, v)*(1+0.002*rng.NormFloat64()))
	}
}

// A roof over an eighth to a half of a field with few stars is seen against the sky:
// to 0.07, half a part on its rim, or to two errors where it is the few stars that
// miss more. A slope of the sky, a nebula, and a dark patch whose
// stars shine are nothing before the telescope.
func TestRoofAgainstTheSky(t *testing.T) {
	const w, h = 1200, 900
	level := func(u, v float64) float64 { return 1 }
	for _, c := range []struct {
		name   string
		usual  func(u, v float64) float64
		odd    func(u, v float64) float64 // the last three of twelve subs
		hides  float64                    // share of the field whose stars they lack
		covers float64
	}{
		{"roof over an eighth", level, func(u, v float64) float64 { return map[bool]float64{true: 0.4, false: 1}[u < 0.125] }, 0.125, 0.125},
		{"roof over a half", level, func(u, v float64) float64 { return map[bool]float64{true: 0.4, false: 1}[u < 0.5] }, 0.5, 0.5},
		{"vignetting and a roof", func(u, v float64) float64 { return 1 - 0.8*((u-0.5)*(u-0.5)+(v-0.5)*(v-0.5)) }, func(u, v float64) float64 {
			return map[bool]float64{true: 0.4, false: 1}[u < 0.25] * (1 - 0.8*((u-0.5)*(u-0.5)+(v-0.5)*(v-0.5)))
		}, 0.25, 0.25},
		{"slope", level, func(u, v float64) float64 { return 1 + 0.3*(u-0.5) }, 0, 0},
		{"dark where stars shine", level, func(u, v float64) float64 { return map[bool]float64{true: 0.4, false: 1}[u < 0.25] }, 0, 0},
		{"everywhere darker", level, func(u, v float64) float64 { return 0.3 }, 0, 0},
	} {
		for seed := range uint64(4) {
			rng := rand.New(rand.NewPCG(seed, 31))
			sky := simulated.NewSky(rng, 45, 60, w, h)
			var fields []*stars.Field
			for k := range 12 {
				f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
				look := c.usual
				if k >= 9 {
					look = c.odd
					f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < c.hides*w] })
				}
				shineOf(f, rng, look)
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			for k, got := range Transparencies(fields, al, nil) {
				want := 0.0
				if k >= 9 {
					want = c.covers
				}
				if !(math.Abs(got.Covered.V-want) < max(0.07, 2*got.Covered.Err)) || want == 0 && got.Covered.V > 0.07 {
					t.Errorf("%s, seed %d, sub %d of %d stars: %v covered, want %v", c.name, seed, k, fields[k].Count, got.Covered, want)
				}
			}
		}
	}
}

// A slope of the sky that turns from sub to sub, as the Moon goes round a wide field, is
// no roof where the few stars cannot contradict; a roof that comes in under it is one.
func TestSlopeThatTurns(t *testing.T) {
	const w, h = 1200, 900
	for _, steep := range []float64{0.4, 0.7, 0.9} { // of the sky, from edge to edge
		for _, covers := range []float64{0, 0.25} {
			rng := rand.New(rand.NewPCG(uint64(10*steep), 41))
			sky := simulated.NewSky(rng, 14, 0, 0.65*w, h)
			for i := range sky.X {
				sky.X[i] += 0.35 * w
			}
			var fields []*stars.Field
			for k := range 12 {
				hides := map[bool]float64{true: covers, false: 0}[k >= 9]
				f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
				f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < hides*w] })
				sin, cos := math.Sincos(0.25 * float64(k))
				shineOf(f, rng, func(u, v float64) float64 {
					return map[bool]float64{true: 0.3, false: 1}[u < hides] * (1 + steep*((u-0.5)*cos+(v-0.5)*sin))
				})
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			for k, got := range Transparencies(fields, al, nil) {
				want := map[bool]float64{true: covers, false: 0}[k >= 9]
				if !(math.Abs(got.Covered.V-want) < 0.07) {
					t.Errorf("slope of %g, %g covered, sub %d of %d stars: %v covered, want %v", steep, covers, k, fields[k].Count, got.Covered, want)
				}
			}
		}
	}
}

// Cloud dims a nebula and lights up the sky: beside clouded subs a clear one is dark
// wherever no nebula is, and yet nothing stands before it. A roof over a quarter is told
// all the same, to half a part on its rim.
func TestNebulaBesideCloud(t *testing.T) {
	const w, h = 1200, 900
	for _, lets := range []float64{0.15, 0.4, 0.7} { // of the light through the cloud over most subs
		for _, covers := range []float64{0, 0.25} {
			rng := rand.New(rand.NewPCG(uint64(100*lets), 43))
			sky := simulated.NewSky(rng, 20, 0, w, h)
			nebula := func(u, v float64) float64 { return 6 * math.Exp(-(u-0.6)*(u-0.6)/0.06-(v-0.5)*(v-0.5)/0.04) }
			var fields []*stars.Field
			for k := range 14 {
				light, glow := 1.0, 1.0
				if k < 9 {
					light, glow = lets, 2-lets
				}
				hides := map[bool]float64{true: covers, false: 0}[k >= 11]
				f := sky.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, simulated.All)
				f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: light}[x < hides*w] })
				shineOf(f, rng, func(u, v float64) float64 {
					return map[bool]float64{true: 0.3, false: 1}[u < hides] * (glow + light*nebula(u, v)) * (1 - 0.5*((u-0.5)*(u-0.5)+(v-0.5)*(v-0.5)))
				})
				fields = append(fields, f)
			}
			al, _ := registration.Align(fields)
			for k, got := range Transparencies(fields, al, nil) {
				want := map[bool]float64{true: covers, false: 0}[k >= 11]
				if !(math.Abs(got.Covered.V-want) < 0.08) {
					t.Errorf("cloud lets %g through, %g covered, sub %d of %d stars: %v covered, want %v", lets, covers, k, fields[k].Count, got.Covered, want)
				}
			}
		}
	}
}

// In a group of four, a roof over half of the last two subs hides its stars from half
// of all; the sky tells it from stars that only two subs have. A lamp that lights up a
// corner of one sub makes no roof of the rest.
func TestRoofOverHalfOfAFewSubs(t *testing.T) {
	const w, h = 1200, 900
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 37))
		sky := simulated.NewSky(rng, 300, 60, w, h)
		var roofed, lit []*stars.Field
		for k := range 4 {
			f := sky.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, simulated.All)
			lamp := *f
			hides, corner := 0.0, 1.0
			if k >= 2 {
				hides = 0.5
			}
			if k == 3 {
				corner = 2
			}
			f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < hides*w] })
			shineOf(f, rng, func(u, v float64) float64 { return map[bool]float64{true: 0.35, false: 1}[u < hides] })
			shineOf(&lamp, rng, func(u, v float64) float64 { return map[bool]float64{true: corner, false: 1}[u < 0.4 && v < 0.4] })
			roofed, lit = append(roofed, f), append(lit, &lamp)
		}
		al, _ := registration.Align(roofed)
		for k, got := range Transparencies(roofed, al, nil) {
			if want := map[bool]float64{true: 0.5, false: 0}[k >= 2]; !(math.Abs(got.Covered.V-want) < 0.07) {
				t.Errorf("seed %d, sub %d: %v covered, want %v", seed, k, got.Covered, want)
			}
		}
		al, _ = registration.Align(lit)
		for k, got := range Transparencies(lit, al, nil) {
			if got.Covered.V > 0.05 {
				t.Errorf("seed %d, sub %d beside a lamp: %v covered", seed, k, got.Covered)
			}
		}
	}
}

// A roof over most of the subs leaves a star or two on its rim in most of them, while those
// behind it are in a few: the sky is dark there, and the rim no sign that it is the sky alone.
// Half a part on its rim is 0.06.
func TestRoofOverMostSubs(t *testing.T) {
	const w, h, edge, rim = 1200, 900, 0.385, 0.5
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 41))
		sky := simulated.NewSky(rng, 45, 60, w, h)
		var fields []*stars.Field
		for k := range 16 {
			f := sky.View(rng, w, h, 5*rng.NormFloat64(), 5*rng.NormFloat64(), 0, 1, false, simulated.All)
			look := func(u, v float64) float64 { return 1 }
			if k >= 4 {
				f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < edge*w] })
				look = func(u, v float64) float64 { return map[bool]float64{true: 0.4, false: 1}[u < rim] }
			}
			shineOf(f, rng, look)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			if want := map[bool]float64{true: rim, false: 0}[k >= 4]; !(math.Abs(got.Covered.V-want) < 0.07) {
				t.Errorf("seed %d, sub %d of %d stars: %v covered, want %v", seed, k, fields[k].Count, got.Covered, want)
			}
		}
	}
}

// A bright nebula in the middle of few stars hides nothing where the dither moves it by up
// to most of a part: beside fields that it moved away from, its places look dark.
func TestNebulaMovesWithDither(t *testing.T) {
	const w, h = 1200, 900
	for _, bright := range []float64{1, 3, 8} { // times the sky
		for _, wide := range []float64{0.08, 0.15} { // sd, of the field's width
			for seed := range uint64(4) {
				rng := rand.New(rand.NewPCG(seed, 47))
				sky := simulated.NewSky(rng, 25, 60, w, h)
				var fields []*stars.Field
				for range 8 {
					dx, dy := 100*(rng.Float64()-0.5), 100*(rng.Float64()-0.5)
					f := sky.View(rng, w, h, dx, dy, 0, 1, false, simulated.All)
					shineOf(f, rng, func(u, v float64) float64 {
						x, y := u-0.5-dx/w, (v-0.5-dy/h)*h/w
						return 1 + bright*math.Exp(-(x*x+y*y)/2/wide/wide)
					})
					fields = append(fields, f)
				}
				al, _ := registration.Align(fields)
				for k, got := range Transparencies(fields, al, nil) {
					if got.Covered.V > 0.03 {
						t.Errorf("%v times the sky, %v wide, seed %d, sub %d of %d stars: %v covered", bright, wide, seed, k, fields[k].Count, got.Covered)
					}
				}
			}
		}
	}
}

// A comet's tail that crosses a field of few stars in the night leaves the sky as it was: where it
// has been, nothing stands before it. A roof over a quarter of the field that comes in after
// it is told all the same, to 0.07, half a part on its rim.
func TestLightThatMovesOnHidesNothing(t *testing.T) {
	const w, h = 1200, 900
	for _, bright := range []float64{0.4, 0.8, 3} { // times the sky
		for _, covers := range []float64{0, 0.25} {
			for seed := range uint64(4) {
				rng := rand.New(rand.NewPCG(seed, 53))
				sky := simulated.NewSky(rng, 30, 0, 0.7*w, h)
				for i := range sky.X { // none where the tail is at first, and the roof at last
					sky.X[i] += 0.3 * w
				}
				var fields []*stars.Field
				for k := range 12 {
					hides := map[bool]float64{true: covers, false: 0}[k >= 9]
					f := sky.View(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, simulated.All)
					f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < hides*w] })
					shineOf(f, rng, func(u, v float64) float64 {
						lit := map[bool]float64{true: 0.4, false: 1}[u < hides] * (1 - 0.4*((u-0.5)*(u-0.5)+(v-0.5)*(v-0.5)))
						across, along := (u-0.1-0.1*max(0, float64(k)-4))/0.06, (v-0.3)/0.2
						return lit * (1 + bright*math.Exp(-(across*across+along*along)/2))
					})
					fields = append(fields, f)
				}
				al, _ := registration.Align(fields)
				for k, got := range Transparencies(fields, al, nil) {
					want := map[bool]float64{true: covers, false: 0}[k >= 9]
					if !(math.Abs(got.Covered.V-want) < 0.07) {
						t.Errorf("tail of %v times the sky, %v covered, seed %d, sub %d of %d stars: %v covered", bright, covers, seed, k, fields[k].Count, got.Covered)
					}
				}
			}
		}
	}
}
