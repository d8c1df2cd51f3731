package plan

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// The invented balcony: 50° N, 10° E.
var balcony = &sky.Site{Lat: 50, Lon: 10, Elevation: 200}

// field has n stars whose peaks follow N(>p) ∝ 1/p with the brightest at top.
func field(n int, skyADU, top float64) *stars.Field {
	f := &stars.Field{Width: 1000, Height: 1000, Count: n, Sky: stats.Known(skyADU, 1, 1)}
	for i := range n {
		f.Stars = append(f.Stars, stars.Star{Peak: top / float64(i+1)})
	}
	return f
}

type sub = subs.Sub

// makeSub is a good sub; change alters it.
func makeSub(i int, start time.Time, filter names.Name, exposure float64, change func(*sub)) *sub {
	nan := math.NaN()
	s := &sub{
		File: fmt.Sprintf("%s_%03d.fits", filter, i), Target: "Heron Nebula", Filter: filter, Camera: "C1",
		Start: start, Exposure: exposure, GainSetting: 100, OffsetSetting: 50, SensorTemp: -10, SetTemp: -10,
		Binning: 1, PixelScale: 0.776, Calibrated: true, FocusPosition: nan, AmbientTemp: nan,
		SkyRate: stats.Known(0.5, 0.01, 1),
		Weight:  stats.Known(1, nan, 1), Verdict: subs.Keep,
	}
	if change != nil {
		change(s)
	}
	if s.Field == nil && s.ReadErr == "" {
		s.Field = field(1000, 100, 20000)
	}
	return s
}

// makeGroup judges nothing: it only puts subs together as package subs does.
func makeGroup(list ...*sub) Group {
	nan := math.NaN()
	g := &subs.Group{Target: list[0].Target, Filter: list[0].Filter, Exposure: list[0].Exposure, Subs: list}
	g.Label = fmt.Sprintf("%s %s %g s", g.Target, g.Filter, g.Exposure)
	return Group{
		Group: g,
		Calibration: calib.Calibration{Gain: stats.Known(0.25, .001, 10), ReadNoise: stats.Known(1.5, 0.01, 20),
			Saturation: 65535, DarkRate: stats.Known(0.01, 0.0001, 5)},
		Offset: 500, DitherPx: nan, FlatLevel: nan, Aperture: nan, ZeroPoint: nan,
	}
}

// run is n subs, one every exposure + 10 s.
func run(start time.Time, n int, filter names.Name, exposure float64, change func(i int, s *sub)) []*sub {
	var list []*sub
	for i := range n {
		at := start.Add(time.Duration(i) * time.Duration((exposure+10)*float64(time.Second)))
		list = append(list, makeSub(i, at, filter, exposure, func(s *sub) {
			if change != nil {
				change(i, s)
			}
		}))
	}
	return list
}

// 2025-02-03, dark at the balcony from about 18:02 to 04:55 UTC.
var evening = time.Date(2025, 2, 3, 18, 30, 0, 0, time.UTC)

func cull(cause subs.Cause) func(*sub) {
	return func(s *sub) { s.Verdict, s.Causes = subs.Cull, []subs.Cause{cause} }
}

func TestYields(t *testing.T) {
	list := run(evening, 12, "Ha", 300, func(i int, s *sub) {
		switch i {
		case 3, 4, 5:
			cull(subs.Cloud)(s)
		case 6:
			cull(subs.Trailed)(s)
		case 7: // doubtful haze at half weight
			s.Verdict, s.Causes, s.Weight = subs.Doubtful, []subs.Cause{subs.Haze}, stats.Known(0.5, math.NaN(), 1)
		case 8: // kept, but not at its best, without a cause
			s.Weight = stats.Known(0.8, math.NaN(), 1)
		case 9: // unreadable: no field, no weight
			cull(subs.Unreadable)(s)
			s.ReadErr, s.Weight = "malformed", stats.Missing("the sub could not be read")
		}
	})
	l := run(evening.Add(2*time.Hour), 4, "L", 60, func(i int, s *sub) { s.Weight = stats.Missing("no stars") })
	got := yields(append(list, l...))
	if len(got) != 2 || got[0].Filter != "Ha" || got[1].Filter != "L" {
		t.Fatalf("yields: %+v", got)
	}
	y := got[0]
	if y.Subs != 12 || y.Kept != 6 || y.Doubtful != 1 || y.Culled != 5 {
		t.Errorf("counts: %+v", y)
	}
	within(t, "shot", y.Shot, 3600, 0)
	within(t, "usable", y.Usable, 7*300, 0)
	within(t, "clear", y.Clear, 5*300+.5*300+.8*300, 1e-9)
	if !math.IsNaN(got[1].Clear) {
		t.Errorf("clear time without weights: %v", got[1].Clear)
	}
}

// Times must be those of package subs, which sums them by group.
func TestYieldsAgreeWithJudgement(t *testing.T) {
	list := run(evening, 20, "Ha", 300, nil)
	for i, s := range list {
		s.RandomNoise = stats.Known(10, 0.1, 1)
		s.SkyADU = stats.Known(100, 1, 1)
		s.Transparency = photometry.Transparency{Ratio: stats.Known(1, 0.01, 50), Unevenness: stats.Known(0.5, 0.1, 50)}
		s.Field.FWHM, s.Field.HFD = stats.Known(4, 0.1, 100), stats.Known(4.2, 0.1, 100)
		s.Field.Ellipticity, s.Field.Coherence = stats.Known(0.08, 0.01, 100), stats.Known(0.2, 0.01, 100)
		s.Field.Angle = stats.Known(10, 5, 100)
		if i >= 12 && i < 16 {
			s.Transparency.Ratio = stats.Known(0.3, 0.01, 50)
		}
		s.Sky = sky.At(balcony, s.Start, 85, 24)
	}
	judged := subs.Judge(list, subs.DefaultLimits)
	if len(judged.Groups) != 1 {
		t.Fatalf("%d groups", len(judged.Groups))
	}
	g := judged.Groups[0]
	y := yields(g.Subs)[0]
	within(t, "shot", y.Shot, g.ShotSeconds, 0)
	within(t, "usable", y.Usable, g.UsableSeconds, 0)
	within(t, "clear", y.Clear, g.EquivalentClearSeconds, 1e-6)
}

func TestUseOfTheNight(t *testing.T) {
	list := run(evening, 30, "Ha", 300, func(i int, s *sub) {
		s.PierSide = "west"
		if i >= 20 { // the flip takes ten minutes more than the usual 10 s
			s.PierSide = "east"
			s.Start = s.Start.Add(10 * time.Minute)
		}
	})
	second := run(list[29].Start.Add(25*time.Minute), 6, "OIII", 300, nil) // 20 min after the last Ha
	in := Input{Groups: []Group{makeGroup(list...), makeGroup(second...)}, Site: balcony}
	copied := *in.Groups[0].Subs[3] // takes no time
	copied.Verdict, copied.Causes = subs.Cull, []subs.Cause{subs.Duplicate}
	in.Groups[0].Subs = append(in.Groups[0].Subs, &copied)
	got := nights(in)
	if len(got) != 1 || got[0].Date != "2025-02-03" || got[0].Camera != "C1" {
		t.Fatalf("nights: %+v", got)
	}
	n := got[0]
	within(t, "shot", n.Shot, 36*300, 0)
	within(t, "in the dark", n.ShotInDark, 36*300, 0)
	within(t, "dark hours", n.DarkHours.V, 10.9, 0.15)
	within(t, "share", n.DarkShare.V, 3/n.DarkHours.V, 1e-9)
	within(t, "between", n.Between, (30-2+5)*10, 1e-6) // every gap but the flip and the change of filter
	if len(n.Pauses) != 2 || n.Pauses[0].Reason != MeridianFlip || n.Pauses[1].Reason != FilterChange {
		t.Fatalf("pauses: %+v", n.Pauses)
	}
	within(t, "flip", n.Pauses[0].Seconds(), 610, 1e-6)
	within(t, "filter", n.Pauses[1].Seconds(), 1200, 1e-6)
	// All dark time is somewhere: in subs, in gaps, before the first or after the last.
	sum := n.ShotInDark + n.Between + n.Pauses[0].Seconds() + n.Pauses[1].Seconds() + n.UnusedBefore + n.UnusedAfter
	within(t, "sum of the dark hours", sum, 3600*n.DarkHours.V, 1)
}

func TestNightsWithoutSiteOrDarkness(t *testing.T) {
	list := run(evening, 3, "L", 60, nil)
	untimed := makeSub(9, time.Time{}, "L", 60, nil)
	n := nights(Input{Groups: []Group{makeGroup(append(list, untimed)...)}})
	if len(n) != 1 || n[0].DarkShare.OK() || n[0].DarkShare.Why.Code == "" || n[0].Shot != 180 {
		t.Errorf("no site: %+v", n)
	}
	summer := run(time.Date(2025, 6, 21, 22, 30, 0, 0, time.UTC), 3, "L", 60, nil)
	n = nights(Input{Groups: []Group{makeGroup(summer...)}, Site: &sky.Site{Lat: 55, Lon: 10}})
	if n[0].DarkHours.V != 0 || n[0].DarkShare.OK() {
		t.Errorf("midsummer at 55° N: %+v", n[0])
	}
	if got := nights(Input{Groups: []Group{makeGroup(untimed)}}); len(got) != 0 {
		t.Errorf("a sub without time has no night: %+v", got)
	}
}

// Several nights in one tree: each its own, the yields of all together.
func TestSeveralNights(t *testing.T) {
	var list []*sub
	for night := range 3 {
		list = append(list, run(evening.AddDate(0, 0, night).Add(6*time.Hour), 10, "Ha", 300, nil)...) // over midnight
	}
	p := Make(Input{Groups: []Group{makeGroup(list...)}, Site: balcony}, DefaultOptions)
	if len(p.Nights) != 3 || p.Nights[2].Date != "2025-02-05" {
		t.Fatalf("%d nights", len(p.Nights))
	}
	sum := 0.0
	for _, n := range p.Nights {
		sum += n.Yields[0].Clear
	}
	within(t, "total", p.Yields[0].Clear, sum, 1e-6)
	within(t, "total", sum, 9000, 1e-6)
}

func lights(g Group) *frames.Group {
	return &frames.Group{Kind: frames.Light, Camera: "C1", BinX: 1, BinY: 1, GainSetting: 100, OffsetSetting: 50,
		SetTemp: -10, Exposure: g.Exposure, Filter: g.Filter, Target: g.Target}
}

func some(n int) *frames.Group { return &frames.Group{Frames: make([]*frames.Frame, n)} }

// A fifth of the frames too few sends nobody out again, a quarter does; a master of
// unknown making is enough.
func TestAFifthTooFewIsEnough(t *testing.T) {
	g := Group{Group: makeGroup(run(evening, 4, "L", 60, nil)...).Group}
	g.Coverage = &calib.Coverage{Lights: &frames.Group{}}
	for have, want := range map[int]int{10: 90, 75: 25, 79: 21, 80: 0, 85: 0, 100: 0, 200: 0, -1: 0} {
		list := g.lacking("dark", calib.Match{Group: some(1), Fit: calib.Fit{Count: have, Fits: true}}, 100)
		got := 0
		for _, s := range list {
			got += s.Frames
		}
		if got != want {
			t.Errorf("%d of 100: %d to shoot, want %d", have, got, want)
		}
	}
	for _, s := range g.Subs { // nothing will be stacked
		s.Verdict = subs.Cull
	}
	if list := g.lacking("dark", calib.Match{Group: some(1), Fit: calib.Fit{Count: 10, Fits: true}}, 100); len(list) > 0 {
		t.Errorf("%+v for no subs", list)
	}
	if list := g.lacking("dark", calib.Match{}, 100); len(list) > 0 {
		t.Errorf("%+v for no subs and no darks", list)
	}
}

func TestShopping(t *testing.T) {
	ha := makeGroup(run(evening, 40, "Ha", 300, nil)...)
	ha.Coverage = &calib.Coverage{Lights: lights(ha),
		Bias: calib.Match{Group: some(5), Fit: calib.Fit{Count: 5, Fits: true}},
		Dark: calib.Match{Group: some(10), Fit: calib.Fit{Frames: 10, Mismatches: []calib.Mismatch{{Property: calib.OfTemperature}}}},
	}
	ha.Worth = &worth.Answer{Reason: worth.LessNoise, Darks: 30, BenefitPct: stats.Known(7, 1, 1)}
	l := makeGroup(run(evening, 40, "L", 60, nil)...)
	l.Coverage = &calib.Coverage{Lights: lights(l),
		Bias: calib.Match{Group: some(5), Fit: calib.Fit{Count: 5, Fits: true}},
		Flat: calib.Match{Group: some(30), Fit: calib.Fit{Count: 30, Fits: true}},
	}
	l.Worth = &worth.Answer{Reason: worth.NoGain}
	p := Make(Input{Groups: []Group{ha, l}, Site: balcony}, DefaultOptions)
	if len(p.Shopping) != 3 || p.Shopping[0].Kind != "flat" || p.Shopping[1].Kind != "bias" || p.Shopping[2].Kind != "dark" {
		t.Fatalf("list: %+v", p.Shopping)
	}
	// Flat: 40 subs of 150 e- sky + 3 e- dark + 2.25 e-² read noise, level 25 000 e-:
	// 40 × (150²/25000)/155.25 / 0.0404 = 5.7, below the fewest.
	if f := p.Shopping[0]; f.Filter != "Ha" || f.Frames != fewestFlat || f.Lack != NoneThere {
		t.Errorf("flat: %+v", f)
	}
	// Bias: for L 40 × 2.25/(30 + 0.6 + 2.25) / 0.0404 = 67.8 -> 68, 5 are there.
	if b := p.Shopping[1]; b.Frames != 63 || b.Have != 5 || len(b.For) != 2 {
		t.Errorf("bias: %+v", b)
	}
	if d := p.Shopping[2]; d.Frames != 30 || d.TempC != -10 || d.Exposure != 300 || d.Lack != NotFitting || d.AtHand == nil || d.AtHand.Frames != 10 || d.Gain != LessNoise || d.GainPct != 7 {
		t.Errorf("dark: %+v", d)
	}
	ha.Worth.ScaledAs = 24
	if scaled := Make(Input{Groups: []Group{ha}}, DefaultOptions); slices.ContainsFunc(scaled.Shopping, func(s Shopping) bool { return s.Kind == "dark" }) {
		t.Errorf("darks that do when they are scaled are shot anew: %+v", scaled.Shopping)
	}
	l.Worth = nil
	for exposure, want := range map[float64]int{0.1: 0, 0.2: 1} { // up to a tenth of a second darks are bias frames
		l.Coverage.Lights.Exposure = exposure
		if got := len(wantDark(l)); got != want {
			t.Errorf("%d wishes for darks of %g s", got, exposure)
		}
	}
	l.Coverage.Lights.Exposure, l.Worth = 60, &worth.Answer{Reason: worth.NoGain}
	l.DitherPx = 5
	dithered := Make(Input{Groups: []Group{l}}, DefaultOptions)
	if b := dithered.Shopping[0]; b.Frames != fewestBias-5 {
		t.Errorf("dithered subs need few bias frames: %+v", b)
	}
	l.Bias.Verdict = "enough"
	if enough := Make(Input{Groups: []Group{l}}, DefaultOptions); len(enough.Shopping) != 0 {
		t.Errorf("a master that was weighed and is enough: %+v", enough.Shopping)
	}
}

// The master's share is confirmed by adding variances up: n subs, all with the same
// master, not dithered.
func TestMasterFrames(t *testing.T) {
	const n, subVariance, readVariance = 40, 32.85, 2.25
	m := masterFrames(readVariance/subVariance, n, false, 0.05)
	noise := math.Sqrt(subVariance/n+readVariance/m) / math.Sqrt(subVariance/n)
	within(t, "noise of the stack", noise, 1.05, 1e-12)
	m = masterFrames(readVariance/subVariance, n, true, 0.05)
	noise = math.Sqrt((subVariance+readVariance/m)/n) / math.Sqrt(subVariance/n)
	within(t, "noise of the dithered stack", noise, 1.05, 1e-12)
}
