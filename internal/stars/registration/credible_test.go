package registration

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/simulated"
)

// withKnots adds what is taken for stars along the spikes of a bright star in the
// middle of the field: the same distances on every arm, a little off.
func withKnots(rng *rand.Rand, f *stars.Field, x, y float64, arms, knots int, gaps []float64) *stars.Field {
	add := func(x, y, flux float64) {
		f.Stars = append(f.Stars, stars.Star{X: x, Y: y, Flux: flux, FluxErr: 40, SNR: flux / 40})
	}
	add(x, y, 5e6)
	for k := range arms {
		sn, cs := math.Sincos(0.7 + 2*math.Pi*float64(k)/float64(arms))
		for i := range knots {
			r := gaps[i] + 0.2*rng.NormFloat64()
			add(x+r*cs, y+r*sn, 3e5/r)
		}
	}
	slices.SortStableFunc(f.Stars, func(a, b stars.Star) int { return int(math.Copysign(1, b.Flux-a.Flux)) })
	f.Count = len(f.Stars)
	return f
}

// A jump leaves every star twice: those of the other subs lie on the second images as
// well as on the first, as far as these are bright enough to be seen, under a map that is
// no turn either. The one that ties more of them is right.
func TestNotOnSecondImages(t *testing.T) {
	tied := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 22))
		const w, h, share = 900, 680, 0.18
		sky := simulated.NewSky(rng, 70, 60, w, h)
		jumped := sky.View(rng, w, h, 0, 0, 0, 1-share, false, simulated.All)
		twice := sky.View(rng, w, h, 0.7, -17.7, 0, share, false, simulated.All)
		jumped.Stars = append(jumped.Stars, twice.Stars...)
		slices.SortStableFunc(jumped.Stars, func(a, b stars.Star) int { return cmp.Compare(b.Flux, a.Flux) })
		jumped.Count = len(jumped.Stars)
		al := alignTo([]*stars.Field{jumped, sky.View(rng, w, h, -13.2, 16.8, 0, 1, false, simulated.All)}, 0)
		if al[1].Matched() {
			tied++
			checkAlignment(t, fmt.Sprint("seed ", seed), al[1], -13.2, 16.8, 0)
		}
	}
	if tied < 36 { // some draws have hardly a bright star
		t.Errorf("%d of 40 tied", tied)
	}
}

// Knots on the spikes of a bright star look alike when they are turned by half a
// turn. Subs are tied as they lie, and after a flip of the mount as they lie then,
// though most of the bright stars are such knots and many of the others are gone.
func TestNoFalseTurns(t *testing.T) {
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 21))
		const w, h = 1200, 900
		sky := simulated.NewSky(rng, 120, 60, w, h)
		var gaps []float64
		for r := 25.0; len(gaps) < 12; r += 9 + 8*rng.Float64() {
			gaps = append(gaps, r)
		}
		arms := 4 + 2*int(seed%2)
		most := func(x, y float64) bool { return rng.Float64() < 0.6 }
		draw := func(dx, dy, turn float64) *stars.Field {
			return withKnots(rng, sky.View(rng, w, h, dx, dy, turn, 1, turn > 0, most), (w-1)/2.0+dx, (h-1)/2.0+dy, arms, 12, gaps)
		}
		fields := []*stars.Field{draw(0, 0, 0), draw(14, -9, 0), draw(-22, 5, 0), draw(7, 3, 180)}
		al := alignTo(fields, 0)
		checkAlignment(t, "as it lay", al[1], 14, -9, 0)
		checkAlignment(t, "as it lay", al[2], -22, 5, 0)
		checkAlignment(t, "flipped", al[3], 7, 3, 180)
	}
}

// A map is credible by more than its number of pairs: where stars stand so close that it
// ties as many when it is moved aside, or where it ties but a few of the brightest stars of
// either field, it is not. In the crowd more than a quarter of the field lies within 2 px of a star, so
// that some 17 of 60 fall on one under any map.
func TestCredible(t *testing.T) {
	const w, h = 600, 500
	for _, c := range []struct {
		name         string
		common, each int  // stars that both show, and that only one of them shows
		own          bool // whether those of one only are brighter
		want         bool
	}{
		{"the same stars", 60, 0, false, true},
		{"in a crowd, none in common", 0, 8000, false, false},
		{"a quarter and more of the brightest", 24, 36, false, true},
		{"a few of them", 10, 50, true, false},
	} {
		for seed := range uint64(5) {
			rng := rand.New(rand.NewPCG(seed, 61))
			here, there := &stars.Field{Width: w, Height: h}, &stars.Field{Width: w, Height: h}
			add := func(f *stars.Field, n int, flux float64) {
				for range n {
					f.Stars = append(f.Stars, stars.Star{X: w * rng.Float64(), Y: h * rng.Float64(), Flux: flux, FluxErr: 40, SNR: flux / 40})
				}
			}
			add(here, c.common, 1e5)
			there.Stars = slices.Clone(here.Stars)
			own := 1e4
			if c.own {
				own = 1e6
			}
			add(here, c.each, own)
			add(there, c.each, own)
			for _, f := range []*stars.Field{here, there} {
				slices.SortStableFunc(f.Stars, func(a, b stars.Star) int { return cmp.Compare(b.Flux, a.Flux) })
				f.Count = len(f.Stars)
			}
			if got := newMatcher(there).credible(here, Transform{A: 1, E: 1}); got != c.want {
				t.Errorf("%s, seed %d: %v", c.name, seed, got)
			}
		}
	}
}
