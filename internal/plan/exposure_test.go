package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

func TestExposureAdvice(t *testing.T) {
	// Sky 0.5 and dark 0.01 e-/s, read noise 1.5 e-: 43.04 s (E11.1).
	for _, c := range []struct {
		exposure float64
		want     Advice
	}{{10, Longer}, {120, Stay}, {600, ShorterWould}} {
		g := makeGroup(run(evening, 20, "L", c.exposure, func(_ int, s *sub) { s.Field = field(1000, 100, 100) })...)
		e := expose(g, DefaultOptions)
		within(t, "shortest", e.Shortest.V, 43.0416069, 1e-6)
		// 2 × 0.01/1.5 of the read noise, the spread of equal subs is 0.
		within(t, "its error", e.Shortest.Err, 43.0416069*2*0.01/1.5, 1e-6)
		if e.Advice() != c.want || e.To != 240 || math.Min(e.From, c.exposure) != math.Min(120, c.exposure) {
			t.Errorf("%g s: %s, %g to %g s, want %s", c.exposure, e.Advice(), e.From, e.To, c.want)
		}
	}
}

func TestExposureUnknown(t *testing.T) {
	g := makeGroup(run(evening, 5, "L", 60, func(_ int, s *sub) { s.SkyRate = stats.Missing("there is no bias frame") })...)
	e := expose(g, DefaultOptions)
	if e.Shortest.OK() || !math.IsNaN(e.From) || e.Advice() != "" {
		t.Errorf("%+v", e)
	}
	g = makeGroup(run(evening, 5, "L", 60, nil)...)
	g.Calibration.ReadNoise = stats.Missing("no gain")
	if e := expose(g, DefaultOptions); e.Shortest.OK() || !e.SkyArcsec.OK() {
		t.Errorf("%+v", e)
	}
	g = makeGroup(run(evening, 5, "L", 60, func(_ int, s *sub) { cull(subs.Cloud)(s) })...)
	if e := expose(g, DefaultOptions); e.Shortest.OK() || e.Shortest.Why.Code == "" {
		t.Errorf("%+v", e)
	}
}

// Other bandwidths: continuum scales, the dark current stays and caps the exposure (E11,
// grade A: 300 -> 7 nm × 42.857 without dark current).
func TestOtherBandwidths(t *testing.T) {
	g := makeGroup(run(evening, 5, "Ha 7nm", 300, nil)...)
	g.Calibration.DarkRate = stats.Known(0, 0, 5)
	e := expose(g, DefaultOptions)
	within(t, "bandwidth", e.Bandwidth, 7, 0)
	if len(e.Others) != 2 || e.Others[0].BandwidthNM != 3 || e.Others[1].BandwidthNM != 12 {
		t.Fatalf("others: %+v", e.Others)
	}
	within(t, "3 nm", e.Others[0].Shortest/e.Shortest.V, 7./3, 1e-9)
	g.Calibration.DarkRate = stats.Known(0.5, 0, 5)
	e = expose(g, DefaultOptions)
	within(t, "3 nm with as much dark as sky", e.Others[0].Shortest/e.Shortest.V, 1/(0.5*3./7+0.5), 1e-9)
	for name, want := range map[names.Name]float64{"Ha": math.NaN(), "OIII 6,5 nm": 6.5, "H-alpha 3NM": 3, "656 nm": math.NaN(), "Lum": math.NaN()} {
		if got := bandwidth(Filter{Name: name}); !(got == want || math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("bandwidth of %q: %v, want %v", name, got, want)
		}
	}
}

// Peaks fall as 1/rank from 20000 ADU over a sky of 100 ADU, 65035 ADU of room.
func TestSaturationLimit(t *testing.T) {
	g := makeGroup(run(evening, 5, "L", 60, nil)...)
	opt := DefaultOptions
	// 1 % of 1000 stars is 10: the 11th must just saturate.
	got := saturationLimit(g, g.Subs, opt)
	within(t, "longest", got.V, 60*65035/(20000./11+100), 1e-6)
	// Counted again at that exposure by scaling every star.
	n := 0
	for _, s := range g.Subs[0].Field.Stars {
		if (s.Peak+100)*got.V/60*1.0001 >= 65035 {
			n++
		}
	}
	if n != 11 {
		t.Errorf("%d stars saturate there, want 11", n)
	}
	// 40 of 1000 saturate already, slope 1: a quarter of the exposure. Their
	// peaks are clipped, so the slope must come from those below.
	clipped := makeGroup(run(evening, 5, "L", 60, func(_ int, s *sub) {
		s.Field = field(1000, 0, 40*65035)
		for i := range s.Field.Stars {
			if star := &s.Field.Stars[i]; star.Peak >= 65035 {
				star.Peak, star.Saturated = 65000, true
			}
		}
	})...)
	got = saturationLimit(clipped, clipped.Subs, opt)
	within(t, "already saturated", got.V, 15, 1) // the 1/p law is stepwise
	g.Calibration.Saturation = math.NaN()
	if got := saturationLimit(g, g.Subs, opt); got.OK() || got.Why.Code == "" {
		t.Errorf("saturation unknown: %+v", got)
	}
}

// Trailing at a rate of one event in 1500 s against read noise: the best
// exposure is where the derivative of exp(-λt) t/(t + R²/S) vanishes, t² + a t = a/λ.
func TestTrailing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const rate, n = 1 / 1500., 4000
	few := field(60, 100, 1000)
	list := run(evening, n, "L", 300, func(_ int, s *sub) {
		s.Field = few
		s.SkyRate = stats.Known(0.01, 0.001, 1)
		if rng.ExpFloat64()/rate < 300 {
			cull(subs.Trailed)(s)
		}
	})
	for i := range list {
		list[i].Start = evening.Add(time.Duration(i) * 300 * time.Second) // no gaps
	}
	g := makeGroup(list...)
	e := expose(g, DefaultOptions)
	within(t, "trailed", e.TrailedShare.V, 1-math.Exp(-300*rate), 3*e.TrailedShare.Err)
	within(t, "rate", e.TrailRate.V, rate, 3*e.TrailRate.Err)
	found := e.TrailRate.V
	a := 1.5 * 1.5 / 0.02 // sky 0.01 and dark 0.01
	want := (-a + math.Sqrt(a*a+4*a/found)) / 2
	within(t, "best", e.Best.V, want, 0.01*want) // the search goes in steps of 1 %
	// What the advice promises, simulated: time of subs that did not trail, counted by
	// signal to noise squared, is near its best within the range and less outside it.
	worth := func(exposure float64) float64 {
		sum, time := 0.0, 0.0
		for range 20000 {
			time += exposure
			if rng.ExpFloat64()/rate > exposure {
				sum += exposure * exposure / (exposure + a)
			}
		}
		return sum / time
	}
	best := worth(e.Best.V)
	for _, exposure := range []float64{e.From, e.To} {
		if got := worth(exposure); got < 0.91*best { // 93 %, less 3 sigma of 20000 subs
			t.Errorf("%g s: %.3f of the best", exposure, got/best)
		}
	}
	for _, exposure := range []float64{e.From / 2, e.To * 2} {
		if got := worth(exposure); got > 0.93*best {
			t.Errorf("%g s: %.3f of the best, so the range is too narrow", exposure, got/best)
		}
	}
	if e.Advice() != Stay || e.From != 240 || e.To != 600 || !(math.Abs(e.Best.V-370) <= 5) {
		t.Errorf("%s, %g to %g s, best %g s", e.Advice(), e.From, e.To, e.Best.V)
	}
	if ten, _ := trailing(makeGroup(list[:10]...).Group); ten.OK() {
		t.Errorf("ten subs show nothing: %+v", ten)
	}
}

// A gust that trails four subs in a row struck once: two gusts in 26 subs are no
// reason against longer ones.
func TestGustsStrikeOnce(t *testing.T) {
	gusts := func(at ...int) stats.Value {
		g := makeGroup(run(evening, 26, "Ha", 180, func(i int, s *sub) {
			if slices.Contains(at, i) {
				cull(subs.Trailed)(s)
			}
		})...)
		_, rate := trailing(g.Group)
		return rate
	}
	two, apart := gusts(4, 5, 21, 22), gusts(4, 9, 14, 21)
	within(t, "two gusts", two.V, -math.Log(1-2./22)/180, 1e-9)
	within(t, "four by themselves", apart.V, -math.Log(1-4./22)/180, 1e-9)
}

// Bright stars limit the range from above, but never push it below the exposure that read
// noise asks for: a few short subs are the cure.
func TestSaturationAdvice(t *testing.T) {
	bright := func(top float64) Exposure {
		g := makeGroup(run(evening, 20, "L", 60, func(_ int, s *sub) {
			s.Field = field(1000, 100, top)
			for i := range s.Field.Stars {
				if star := &s.Field.Stars[i]; star.Peak >= 64935 {
					star.Peak, star.Saturated = 64935, true
					s.Field.Saturated++
				}
			}
		})...)
		return expose(g, DefaultOptions)
	}
	some := bright(500000)
	if some.From != 60 || some.To != 60 || some.Saturating.V < 80 || some.Saturating.V > 90 {
		t.Errorf("some: %+v", some)
	}
	many := bright(5e6)
	if many.From != 45 || many.To != 45 {
		t.Errorf("many: %+v", many)
	}
	if RoundDown(many.Saturating.V) != 5 || !(many.SaturatedNow.V > many.SaturatedShare) {
		t.Errorf("many: %g s saturate %g", many.Saturating.V, many.SaturatedNow.V)
	}
}

// Under a bright sky stars saturate in subs so short that the gaps of 10 s would
// take most of the time: the present ones stay.
func TestGapsOutweighSaturation(t *testing.T) {
	g := makeGroup(run(evening, 20, "L", 60, func(_ int, s *sub) {
		s.SkyRate = stats.Known(5, 0.01, 1)
		s.Field = field(1000, 100, 5e6)
		for i := range s.Field.Stars {
			if star := &s.Field.Stars[i]; star.Peak >= 64935 {
				star.Peak, star.Saturated = 64935, true
				s.Field.Saturated++
			}
		}
	})...)
	if e := expose(g, DefaultOptions); e.Saturating.V > 10 || e.From != 60 || e.To != 60 || e.Gain != 0 {
		t.Errorf("%g s saturate, advised %g to %g s", e.Saturating.V, e.From, e.To)
	}
}

// What another exposure gains in signal to noise is its root of signal² over
// noise² per time, gaps counted; under 5 % it is not worth a change.
func TestGainOfLongerSubs(t *testing.T) {
	for _, c := range []struct{ exposure, from, gain float64 }{
		{30, 120, math.Sqrt((61.2/63.45*120/130)/(15.3/17.55*30/40)) - 1},
		{90, 90, 0}, // the best, 240 s, gains 4 %
	} {
		e := expose(makeGroup(run(evening, 20, "L", c.exposure, nil)...), DefaultOptions)
		within(t, "from", e.From, c.from, 0)
		within(t, "gain", e.Gain, c.gain, 1e-9)
	}
}

func TestSkyMagnitude(t *testing.T) {
	g := makeGroup(run(evening, 5, "L", 60, nil)...)
	if e := expose(g, DefaultOptions); e.SkyMag.OK() || e.SkyMag.Why.Code == "" || e.Bortle != (sky.Bortle{}) {
		t.Errorf("no zero point: %+v", e.SkyMag)
	}
	opt := DefaultOptions
	opt.Filters = []Filter{{Name: "L", ZeroPoint: 19.5}}
	e := expose(g, opt)
	within(t, "rate", e.SkyArcsec.V, 0.5/(0.776*0.776), 1e-9)
	if want := (sky.Bortle{Lowest: 5, Highest: 5}); e.Bortle != want {
		t.Error(e.Bortle)
	}
	within(t, "mag", e.SkyMag.V, 19.5-2.5*math.Log10(0.5/(0.776*0.776)), 1e-9)
	// The header's zero point is for ADU: 0.25 e-/ADU.
	g.ZeroPoint = 19.5 - 2.5*math.Log10(0.25)
	within(t, "header", expose(g, DefaultOptions).SkyMag.V, e.SkyMag.V, 1e-9)
}

func TestRoundExposures(t *testing.T) {
	for _, c := range []struct{ t, up, down float64 }{{43, 45, 30}, {45, 45, 45}, {45.01, 45, 45}, {0.2, 1, 1}, {1e5, 3600, 3600}} {
		if u, d := roundUp(c.t), RoundDown(c.t); u != c.up || d != c.down {
			t.Errorf("%g s: %g and %g, want %g and %g", c.t, u, d, c.up, c.down)
		}
	}
}
