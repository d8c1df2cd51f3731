package tie

import (
	"math"
	"math/rand/v2"
	"testing"

	"fitsqa/internal/stars"
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
			sky := newSkyField(rng, 45, 60, w, h)
			var fields []*stars.Field
			for k := range 12 {
				f := sky.view(rng, w, h, 10*rng.NormFloat64(), 10*rng.NormFloat64(), 0, 1, false, all)
				look := c.usual
				if k >= 9 {
					look = c.odd
					f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < c.hides*w] })
				}
				shineOf(f, rng, look)
				fields = append(fields, f)
			}
			al, _ := Align(fields)
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
