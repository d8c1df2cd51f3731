package night

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/cache"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// A set-up has one zero point wherever its targets stand: what the air takes of it goes
// by the extinction that the night shows, else by the usual one with its spread.
func TestZeroPointAtAirmassOne(t *testing.T) {
	const optics = 21.5 // mag at airmass 1
	shot := func(k, airmass float64, cloud float64, best float64) *Sub {
		return &Sub{Sub: &subs.Sub{Target: "T", Filter: "L", Camera: "C", Start: time.Date(2025, 8, 20, 23, 0, 0, 0, time.UTC),
			Transparency: photometry.Transparency{Ratio: stats.Known(cloud*math.Pow(10, -0.4*k*(airmass-best)), 0.01, 50)},
			Sky:          sky.Conditions{Airmass: stats.Known(airmass, math.NaN(), 0)}},
			ZeroPoint: stats.Known(optics-k*(airmass-1)+2.5*math.Log10(cloud), 0.01, 50)}
	}
	for _, c := range []struct {
		name         string
		k, known     float64 // of the air, and as far as the night tells
		high, low    float64 // airmass
		want, within float64
	}{
		{"near the zenith", 0.2, math.NaN(), 1.01, 1.1, optics, 0.005},
		{"low, by the usual extinction", 0.2, math.NaN(), 1.7, 2.1, optics, 0.005},
		{"low, by its own", 0.38, 0.38, 1.7, 2.1, optics, 0.005},
		{"low, of unusual extinction that is not known", 0.3, math.NaN(), 1.7, 2.1, optics, 0.08},
	} {
		night := []*Sub{shot(c.k, c.high, 1, c.high), shot(c.k, (c.high+c.low)/2, 1, c.high), shot(c.k, c.low, 1, c.high), shot(c.k, c.low, 0.7, c.high)}
		r := &Result{Subs: night}
		if c.known > 0 {
			r.Extinctions = []ExtinctionReport{{Target: "T", Filter: "L", Camera: "C", Extinction: photometry.Extinction{K: stats.Known(c.known, 0.02, 30)}}}
		}
		got := r.zenithZero(night)
		if !(math.Abs(got.V-c.want) <= c.within) {
			t.Errorf("%s: %.3f, want %.3f ± %.3f", c.name, got.V, c.want, c.within)
		}
		if math.IsNaN(c.known) && c.high > 1.5 && !(got.Err > 0.06) { // the spread of extinctions is in the error
			t.Errorf("%s: error %.3f", c.name, got.Err)
		}
	}
	// Without an airmass it stays what it is.
	s := shot(0.2, 1.5, 1, 1.5)
	s.Sky.Airmass = stats.Missing("no site")
	if got := (&Result{}).zenithZero([]*Sub{s}); !(math.Abs(got.V-(optics-0.1)) <= 1e-9) {
		t.Errorf("no airmass: %v", got.V)
	}
}

// A night is soft as a whole beside the season's sharpest quarter, not beside a night or
// two, and not for the scatter of nights.
func TestSoftNightOfTheSeason(t *testing.T) {
	for _, c := range []struct {
		fwhm, best float64
		subs       int
		soft       bool
	}{{6.5, 3.1, 30, true}, {4.1, 3.1, 30, false}, {6.5, 3.1, 4, false}, {6.5, 6.1, 30, false}} {
		g := &subs.Group{Season: subs.NoSeason("")}
		g.Season.FWHM, g.Season.Level = stats.Known(c.fwhm, 0.1, 20), stats.Known(1, 0.01, 50)
		share(g, Reference{FWHM: c.best, Noise: 2, Subs: c.subs, Depth: 1, Level: 1}, Merit{Depth: 1, Could: 1}, nil)
		if g.Season.SoftNight() != c.soft || g.Season.BestNoise.OK() != (c.subs >= 5) {
			t.Errorf("%+v: soft %v, noise %+v", c, g.Season.SoftNight(), g.Season.BestNoise)
		}
	}
}

// Air is poor beside the season's best from a tenth of its light lost, beyond twice the
// error of that: two steps to either side.
func TestPoorAir(t *testing.T) {
	for _, c := range []struct {
		through, err float64
		poor         bool
	}{{1, 0.01, false}, {0.93, 0.01, false}, {0.87, 0.01, true}, {0.7, 0.01, true}, {0.8, 0.07, false}, {0.8, 0.03, true}} {
		if got := poorAir(stats.Known(c.through, c.err, 40)); got != c.poor {
			t.Errorf("%g ± %g of the best night's light: %v", c.through, c.err, got)
		}
	}
	if poorAir(stats.Missing("no catalogue stars")) {
		t.Error("air that was not measured is poor")
	}
}

// A sub that is plainly softer than the season's sharpest quarter says so and keeps its
// verdict; where the whole night is soft the first screen tells it, not each sub.
func TestSubsBesideTheSeason(t *testing.T) {
	night := func(arcsec ...float64) (*subs.Group, []*Sub) {
		var all []*Sub
		for _, w := range arcsec {
			s := &Sub{Sub: &subs.Sub{Target: "T", Filter: "L", PixelScale: 2, Verdict: subs.Keep, Weight: stats.Known(0.9, math.NaN(), 1),
				Transparency: photometry.Transparency{Ratio: stats.Known(1, 0.01, 50)}, Field: &stars.Field{FWHM: stats.Known(w/2, 0.02, 50)}}, Frame: &frames.Frame{Meta: frames.NoMeta()}}
			s.measureLight()
			all = append(all, s)
		}
		g := &subs.Group{Season: subs.NoSeason(""), EquivalentClearSeconds: 100}
		g.Season.Level = stats.Known(1, 0.01, 50)
		depthOf(&g.Season, all)
		return g, all
	}
	const sharpest = 3.0 // arcsec, of an earlier night
	for _, c := range []struct {
		arcsec []float64
		subs   int // of the season
		told   []bool
		ratio  float64 // of the last
	}{
		{[]float64{3, 3.1, 3.2, 5.1}, 30, []bool{false, false, false, true}, 1.7},
		{[]float64{3, 3.1, 3.2, 4.1}, 30, make([]bool, 4), 4.1 / 3},
		{[]float64{5, 5.2, 5.4, 6}, 30, make([]bool, 4), 2}, // all: told once
		{[]float64{3, 3.1, 3.2, 5.1}, 4, make([]bool, 4), math.NaN()},
	} {
		g, all := night(c.arcsec...)
		share(g, Reference{FWHM: sharpest, Subs: c.subs, Depth: 2, Level: 1}, Merit{Depth: 1, Could: 1}, nil)
		for i, s := range all {
			s.onSeason(g)
			if told := fact.Has(s.Remarks, subs.WideBesideSeason); told != c.told[i] || s.Verdict != subs.Keep {
				t.Errorf("%v, %d subs: %v, %s", c.arcsec, c.subs, s.Remarks, s.Verdict)
			}
			if !(math.Abs(s.SeasonalWeight.V-0.45) <= 1e-9) { // half of the season's best depth
				t.Errorf("%v: weight %+v", c.arcsec, s.SeasonalWeight)
			}
		}
		last := all[len(all)-1].SeasonFWHM
		if last.OK() != (c.ratio > 0) || last.OK() && math.Abs(last.V-c.ratio) > 1e-9 || !last.OK() && last.Why.Code == "" {
			t.Errorf("%v: %+v, want %.2f", c.arcsec, last, c.ratio)
		}
	}
	// Width needs no weight.
	g, all := night(3, 5.1)
	r := &Result{Settings: Settings{Season: Season{References: []Reference{{View: viewOf(all[0]), FWHM: sharpest, Subs: 30}}}}}
	for _, s := range all {
		s.Weight = stats.Missing("no gain")
	}
	r.compareGroup(g, all, nil)
	if s := all[1]; !(math.Abs(s.SeasonFWHM.V-1.7) <= 1e-9) || s.SeasonalWeight.OK() || s.SeasonalWeight.Why.Code == "" || !fact.Has(s.Remarks, subs.WideBesideSeason) {
		t.Errorf("without a weight: %+v, %+v, %v", s.SeasonFWHM, s.SeasonalWeight, s.Remarks)
	}
}

// A night's level is found out once, and anew where the stars that it rests on, their
// light or the reference is another.
func TestLevelIsRemembered(t *testing.T) {
	store, err := cache.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(5, 1))
	field := &stars.Field{Width: 1000, Height: 800}
	for i := range 40 {
		field.Stars = append(field.Stars, stars.Star{X: 1000 * rng.Float64(), Y: 800 * rng.Float64(), Flux: 1e5 - 1e3*float64(i), SNR: 100})
	}
	s := &Sub{Sub: &subs.Sub{Target: "T", Width: 1000, Height: 800, Exposure: 10, Field: field, Transparency: photometry.Transparency{Ratio: stats.Known(1, 0.01, 40)}}, Frame: &frames.Frame{Meta: frames.NoMeta()}, key: cache.Key{1}}
	ref := newReference(viewOf(s), s, "2025-08-20")
	m := newMemory(store)
	if level := m.level(ref, []*Sub{s}); !(math.Abs(level.V-1) <= 1e-9) {
		t.Fatalf("its own light over itself is %+v", level)
	}
	s.Field = &stars.Field{Width: 1000, Height: 800} // a level that is worked out anew cannot be had
	if level := m.level(ref, []*Sub{s}); !(math.Abs(level.V-1) <= 1e-9) {
		t.Errorf("not remembered: %+v", level)
	}
	for name, change := range map[string]func(*Reference, *Sub){
		"stars taken off":   func(_ *Reference, s *Sub) { s.fixed = []int{3} },
		"another sub":       func(_ *Reference, s *Sub) { s.key = cache.Key{2} },
		"another gain":      func(_ *Reference, s *Sub) { s.ElectronsPerADU = 2 },
		"clearer":           func(_ *Reference, s *Sub) { s.Transparency.Ratio.V = 1.1 },
		"another reference": func(ref *Reference, _ *Sub) { ref.Stars = ref.Stars[1:] },
	} {
		other, of := *s, *s.Sub
		other.Sub = &of
		changed := ref
		change(&changed, &other)
		if level := m.level(changed, []*Sub{&other}); level.OK() {
			t.Errorf("%s: remembered all the same", name)
		}
	}
}
