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

// A field of a dozen stars through cloud that lets a different share of each through has a
// transparency, within its errors: no two of its stars agree, and none is wrong.
func TestFewStarsThroughPatches(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 3))
		sky := simulated.NewSky(rng, 12, 60, w, h)
		var fields []*stars.Field
		var truth float64
		for k := range 6 {
			f := sky.View(rng, w, h, 2*rng.NormFloat64(), 2*rng.NormFloat64(), 0, 1, false, simulated.All)
			if k == 5 {
				let := func(x, y float64) float64 { return 0.2 + 0.5*x/w }
				for _, s := range f.Stars {
					truth += let(s.X, s.Y) / float64(len(f.Stars))
				}
				f = through(f, let)
			}
			f.Count, f.FWHM = len(f.Stars), stats.Known(3, 0.05, 40)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		got := Transparencies(fields, al, nil)
		if r := got[5].Ratio; !(math.Abs(r.V-truth) < 0.05+3*r.Err && r.Err < 0.15) {
			t.Errorf("seed %d, %d stars: %v, want %.3f", seed, fields[5].Count, r, truth)
		}
		if r := got[2].Ratio; !(math.Abs(r.V-1) < 0.05) {
			t.Errorf("seed %d: a clear one lets %v through", seed, r)
		}
	}
}

// Half a field without its stars is covered although no more than two or five dozen of them
// must be there, and none is far above the noise.
func TestCoverOverFaintStars(t *testing.T) {
	const w, h = 900, 640
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 5))
		sky := simulated.NewSky(rng, 24+36*int(seed%2), 0, w, h)
		for i := range sky.Flux {
			sky.Flux[i] = 480 + 200*rng.Float64() // 12 to 17 times its noise
		}
		var fields []*stars.Field
		for k := range 8 {
			f := sky.View(rng, w, h, 2*rng.NormFloat64(), 2*rng.NormFloat64(), 0, 1, false, simulated.All)
			if k == 7 {
				f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < w/2] })
			}
			f.Count, f.FWHM = len(f.Stars), stats.Known(3, 0.05, 40)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			want := map[bool]float64{true: 0.5, false: 0}[k == 7]
			if !(math.Abs(got.Covered.V-want) < 0.25) {
				t.Errorf("seed %d, sub %d of %d stars: %v covered, want %v", seed, k, fields[k].Count, got.Covered, want)
			}
		}
	}
}

// A roof over fields without stars to tie them by is seen
// against their sky, nebula and all; a field of another sky is not covered.
func TestRoofWithoutStars(t *testing.T) {
	const w, h = 900, 640
	nebula := func(u, v float64) float64 { return 1 + 2*math.Exp(-8*((u-0.6)*(u-0.6)+(v-0.4)*(v-0.4))) }
	roof := func(u, v float64) float64 { return nebula(u, v) * (0.35 + 0.65/(1+math.Exp(-30*(u-0.5)))) }
	other := func(u, v float64) float64 { return nebula(1.3-u, v+0.3) }
	rng := rand.New(rand.NewPCG(1, 7))
	var fields []*stars.Field
	for k := range 9 {
		f := &stars.Field{Width: w, Height: h, RandomNoise: stats.Known(18, 0.1, 64)}
		shineOf(f, rng, []func(u, v float64) float64{nebula, roof, other}[k%3*(k/3%2)])
		fields = append(fields, f)
	}
	al, _ := registration.Align(fields)
	for k, got := range Transparencies(fields, al, nil) {
		want := map[bool]float64{true: 0.5, false: 0}[k%3*(k/3%2) == 1]
		if covered := got.Covered.V; want > 0 && !(math.Abs(covered-want) < 0.15) || want == 0 && covered > 0 {
			t.Errorf("sub %d: %v covered, want %v", k, got.Covered, want)
		}
		if got.Ratio.OK() {
			t.Errorf("sub %d: light %v without stars", k, got.Ratio)
		}
	}
}

// Without the offset taken off, an edge in the level of the sky covers the field where all
// the stars beyond it are gone, two of them already; where they shine it does not.
func TestEdgeAboveAnOffset(t *testing.T) {
	const w, h = 900, 640
	for _, gone := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(2, 9))
		sky := simulated.NewSky(rng, 10, 0, w, h)
		for i := range sky.X {
			sky.X[i], sky.Flux[i] = w*(0.5+0.4*rng.Float64()), 1e5
			if i < 2 {
				sky.X[i] = w * (0.1 + 0.2*rng.Float64())
			}
		}
		var fields []*stars.Field
		for k := range 8 {
			f := sky.View(rng, w, h, 2*rng.NormFloat64(), 2*rng.NormFloat64(), 0, 1, false, simulated.All)
			dims := k == 7
			if dims && gone {
				f = through(f, func(x, y float64) float64 { return map[bool]float64{true: 0, false: 1}[x < w*0.4] })
			}
			shineOf(f, rng, func(u, v float64) float64 { return 2 - map[bool]float64{true: 0.1, false: 0}[dims && u < 0.4] })
			f.Count, f.FWHM = len(f.Stars), stats.Known(3, 0.05, 40)
			fields = append(fields, f)
		}
		al, _ := registration.Align(fields)
		for k, got := range Transparencies(fields, al, nil) {
			want := map[bool]float64{true: 0.375, false: 0}[k == 7 && gone]
			if !(math.Abs(got.Covered.V-want) < 0.13) {
				t.Errorf("gone %v, sub %d of %d stars: %v covered, want %v", gone, k, fields[k].Count, got.Covered, want)
			}
		}
	}
}
