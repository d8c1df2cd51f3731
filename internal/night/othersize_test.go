package night

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stars"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// skyOf is a made patch of sky: places in px of the unbinned camera about its middle, and
// fluxes as star counts have them.
func skyOf(seed uint64) (list []stars.Star) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 400 {
		list = append(list, stars.Star{X: 1600 * (rng.Float64() - 0.5), Y: 1200 * (rng.Float64() - 0.5), Flux: 2e5 / float64(i+1)})
	}
	return list
}

// viewOfSky is a sub of it.
func viewOfSky(sky []stars.Star, seed uint64, w, h, binning int, transmission, width float64) *Sub {
	rng := rand.New(rand.NewPCG(seed, 2))
	f := &stars.Field{Width: w, Height: h, FWHM: stats.Known(width/float64(binning), 0.02, 50),
		Ellipticity: stats.Known(0.08, 0.01, 50), Coherence: stats.Known(0.3, 0.05, 50)}
	dx, dy := 20*rng.Float64(), 20*rng.Float64()
	for _, s := range sky {
		x, y := (s.X+dx)/float64(binning)+float64(w)/2+0.05*rng.NormFloat64(), (s.Y+dy)/float64(binning)+float64(h)/2+0.05*rng.NormFloat64()
		flux := s.Flux * transmission * (1 + 0.01*rng.NormFloat64())
		if x > 5 && y > 5 && x < float64(w-5) && y < float64(h-5) && flux > 600 {
			f.Stars = append(f.Stars, stars.Star{X: x, Y: y, Flux: flux, SNR: flux / 60, FWHM: width / float64(binning)})
		}
	}
	slices.SortFunc(f.Stars, func(a, b stars.Star) int { return int(math.Copysign(1, b.Flux-a.Flux)) })
	f.Count = len(f.Stars)
	return &Sub{Sub: &subs.Sub{Target: "Heron Nebula", Camera: "C", Filter: "L", Width: w, Height: h, Binning: binning, Field: f, Exposure: 60}}
}

// A sub of another size or binning of its target stays with it, whatever cloud or a blow
// did to it; one that clearly shows another field is compared with nothing of it.
func TestLostSubOfAnotherSize(t *testing.T) {
	here, there := skyOf(3), skyOf(4)
	for _, c := range []struct {
		what   string
		sub    *Sub
		parted bool
	}{
		{"another field, binned", viewOfSky(there, 90, 400, 300, 2, 1, 3), true},
		{"another field, a little cropped", viewOfSky(there, 91, 720, 560, 1, 1, 3), true},
		{"the same field, binned", viewOfSky(here, 92, 400, 300, 2, 1, 3), false},
		{"the same field, a little cropped", viewOfSky(here, 93, 720, 560, 1, 1, 3), false},
		{"another field behind cloud", viewOfSky(there, 94, 400, 300, 2, 0.1, 3), false},
		{"another field, blurred", viewOfSky(there, 95, 400, 300, 2, 1, 9), false},
		{"a corner's crop", viewOfSky(there, 96, 200, 150, 1, 1, 3), false},
	} {
		if testing.Short() && !strings.Contains(c.what, "cropped") {
			continue
		}
		r := &Result{}
		for i := range 6 {
			r.Subs = append(r.Subs, viewOfSky(here, uint64(i), 800, 600, 1, 1, 3))
		}
		r.Subs = append(r.Subs, c.sub)
		for _, same := range sameFields(r.Subs) {
			tieTogether(same)
		}
		r.partSizes(7)
		if got := c.sub.Target != "Heron Nebula"; got != c.parted || (c.sub.Stack == 7) != c.parted || (fact.Has(r.Warnings, OtherFieldSub) || fact.Has(r.Warnings, OtherFieldSubs)) != c.parted {
			t.Errorf("%s: %s, stack %d; %v; %d stars", c.what, c.sub.Target, c.sub.Stack, r.Warnings, c.sub.Field.Count)
		}
		if i := slices.IndexFunc(r.Subs[:6], func(s *Sub) bool { return s.Target != names.Name("Heron Nebula") }); i >= 0 {
			t.Errorf("%s: sub %d lost its name", c.what, i)
		}
	}
}
