package worth

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fitsqa/internal/sensor"
	"fitsqa/internal/sensor/given"
	"fitsqa/internal/stats"
)

// withStars adds the same sky to every sub, where it lies: stars of 3 px FWHM,
// bright and too faint to be seen in one sub.
func (s *simNight) withStars(n int, brightest float64) {
	c := s.c
	for range n {
		x0, y0 := c.rng.Float64()*float64(c.w), c.rng.Float64()*float64(c.h)
		flux := brightest * math.Pow(10, -4*c.rng.Float64())
		for k, sub := range s.subs {
			cx, cy := x0-float64(s.shifts[k][0]), y0-float64(s.shifts[k][1])
			for y := int(cy) - 8; y <= int(cy)+8; y++ {
				for x := int(cx) - 8; x <= int(cx)+8; x++ {
					if x < 0 || y < 0 || x >= c.w || y >= c.h {
						continue
					}
					dx, dy := float64(x)-cx, float64(y)-cy
					sub[y*c.w+x] += c.poisson(flux * math.Exp(-(dx*dx+dy*dy)/(2*1.6)) / (2 * math.Pi * 1.6))
				}
			}
		}
	}
}

// seen is what the subs corrected by a master tell.
func (s *simNight) seen(master []float64) *Seen {
	all := make([]int, s.c.h)
	for y := range all {
		all[y] = y
	}
	seen := NewSeen(s.c.w, s.c.h, all, s.c.h/2, false)
	rows := make([]float32, s.c.w*s.c.h)
	places := s.places()
	for k, sub := range s.subs {
		for i := range rows {
			rows[i] = float32(sub[i] - master[i])
		}
		seen.Add(rows, &places[k])
	}
	return seen
}

// Without one dark, subs under stars tell the sensor's pattern and hot pixels,
// and give the verdict that darks give wherever the pattern exceeds a quarter of
// the stack's noise.
func TestSensorSeenInSubs(t *testing.T) {
	if testing.Short() {
		t.Skip("whole simulated stacks")
	}
	for _, o := range oracles {
		t.Run(o.name, func(t *testing.T) {
			t.Parallel()
			o.c.w, o.c.h, o.c.hotShare = 320, 320, 0.001
			o.c.init(5)
			in := o.input(t, 20, 20)
			for _, moves := range []bool{true, false} {
				night := o.c.night(o.subs, o.seconds, o.sky, func(k int) (int, int) {
					if moves {
						return (k * 7) % 17, (k * 11) % 19
					}
					return 0, 0
				})
				night.withStars(200, 1e5)
				in.Places = night.places()
				frames := []int{20, 1000}
				if !moves { // what a sky that stands still hides, no bias shows
					frames = frames[:1]
				}
				for _, n := range frames {
					in.Bias = withFrames(in.Bias, n)
					o.compare(t, in, night, n, moves)
				}
			}
		})
	}
}

// withFrames is a set that says it had so many frames.
func withFrames(s *sensor.Set, n int) *sensor.Set {
	more, group := *s, *s.Group
	group.Frames = slices.Repeat(group.Frames[:1], n)
	more.Group, more.Combined = &group, n
	return &more
}

// compare holds what subs corrected by so many bias frames tell against the truth, and the
// verdict by them against that by darks.
func (o *oracle) compare(t *testing.T, in Input, night *simNight, bias int, moves bool) {
	f := night.seen(o.c.master(bias, 0)).FoundFor(in, true)
	truth := o.c.patternAbove(in.hotFrom()/o.seconds) * o.seconds
	where := fmt.Sprintf("dithered %v, %d bias", moves, bias)
	t.Logf("%s: pattern %v under %.3f e-, truth %.3f; %.0f hot, truth %d; glow %v under %.2f",
		where, f.Pattern, f.AtMost, truth, float64(len(f.Hot))/f.Part, hotOf(&o.c), f.Glow.Height, f.Glow.AtMost)
	if moves && f.Pattern.OK() && math.Abs(f.Pattern.V-truth) > 3*f.Pattern.Err+0.03*truth {
		t.Errorf("%s: pattern %v e-, truth %.3f", where, f.Pattern, truth)
	}
	if f.AtMost < 0.95*truth {
		t.Errorf("%s: pattern of %.3f e- is said to be under %.3f", where, truth, f.AtMost)
	}
	stack := in.lightAndReadOut().budget(ByBias, bias, o.seconds, still(o.subs)).Total
	if moves && truth > stack/4 && !f.Pattern.OK() {
		t.Errorf("%s: pattern of %.3f e- in a stack of %.3f is not found", where, truth, stack)
	}
	with := OfDarks(in)
	alone := in
	alone.Sets, alone.Found, alone.DarkRate, alone.SkyAndDark = nil, &f, stats.Missing("no darks"), true
	if !o.c.clamped { // the bias leaves the dark current in the sky
		alone.SkyRate.V += o.c.dark
	}
	without := OfDarks(alone)
	t.Logf("%s: with darks: %+v", where, with)
	t.Logf("%s: without: %+v", where, without)
	// A glow under a sky that does not move cannot be told from it: the verdict is left open.
	if open := without.Reason == "" && !moves && with.Reason == Glow; !open && without.Reason != with.Reason {
		t.Errorf("%s: %q with darks, %q without", where, with.Reason, without.Reason)
	}
}

// patternAbove is the spread of the dark rates up to a limit above the median, e-/s.
func (c *simCamera) patternAbove(limit float64) float64 {
	centre := stats.Median(c.rate)
	limit = max(limit, standsOut*stats.MADSigma(c.rate))
	var kept []float64
	for _, r := range c.rate {
		if math.Abs(r-centre) < limit {
			kept = append(kept, r)
		}
	}
	return math.Sqrt(stats.Variance(kept))
}

// Darks of a sensor that has aged since: some hot pixels are gone, some new.
func TestLibraryOfAnotherDate(t *testing.T) {
	for _, test := range []struct {
		name        string
		gone, fresh int
		warmer      float64 // dark signal now over then
		verdict     Validity
	}{
		{"unchanged", 0, 0, 1, "still valid"},
		{"a few", 8, 8, 1, "still valid"},
		{"annealed", 100, 0, 1, "shoot new darks"},
		{"radiated", 0, 200, 1, "shoot new darks"},
		{"warmer", 0, 0, 1.5, "shoot new darks"},
	} {
		t.Run(test.name, func(t *testing.T) {
			if testing.Short() && test.name != "a few" && test.name != "warmer" {
				t.Skip("a library that serves and one that does not are enough")
			}
			t.Parallel()
			o := oracle{c: simCamera{gain: 0.5, read: 1.5, pattern: 0.3, dark: 0.01, warm: 0.003, hotShare: 0.002, hotMin: 0.5}, subs: 12, seconds: 300, sky: 0.2}
			o.c.w, o.c.h = 300, 300
			o.c.init(3)
			in := o.input(t, 20, 20)
			dark := in.best(in.darkSets())
			master := o.c.master(20, o.seconds)
			gone, fresh := 0, 0
			for i := range o.c.rate {
				switch {
				case o.c.hot[i] && gone < test.gone:
					o.c.rate[i] = o.c.dark
					gone++
				case !o.c.hot[i] && fresh < test.fresh && i%97 == 0:
					o.c.rate[i] += 3
					fresh++
				}
				o.c.rate[i] *= test.warmer
			}
			night := o.c.night(o.subs, o.seconds, o.sky, func(k int) (int, int) { return (k * 7) % 17, (k * 11) % 19 })
			night.withStars(100, 1e4)
			own := (o.c.dark*o.seconds + o.c.read*o.c.read) / 20
			then := thenOf(dark, "2025-03-01")
			then.Taken = false
			raw := night.seen(o.c.master(20, 0))
			for _, l := range []Library{
				night.seen(master).library(dark, "2025-03-01", o.seconds, own, o.c.warm*o.seconds, in.hotFrom(), (65535-1000)*o.c.gain),
				raw.LibraryOfMap(in, then), // the same without the darks
			} {
				t.Logf("%+v", l)
				if l.Verdict != test.verdict {
					t.Errorf("%q: %s", l.Verdict, l.Lacks.Code)
				}
				// Saturated and masked pixels are not looked at; some gone ones lie there.
				if math.Abs(float64(l.Gone-test.gone)) > 0.25*float64(test.gone)+2 {
					t.Errorf("%d gone, truth %d", l.Gone, test.gone)
				}
				if math.Abs(float64(l.New-test.fresh)) > 0.2*float64(test.fresh)+3 && test.warmer == 1 {
					t.Errorf("%d new, truth %d", l.New, test.fresh)
				}
				if test.gone == 0 && math.Abs(l.Level.V-test.warmer) > 0.05 {
					t.Errorf("level %v, truth %g", l.Level, test.warmer)
				}
			}
			slices.SortFunc(then.Hot, func(a, b sensor.HotPixel) int { return cmp.Compare(b.Rate, a.Rate) })
			then.Hot = then.Hot[:60]
			// A new one is as hot as few of those on a cut list, and none of the others is new.
			if l := raw.LibraryOfMap(in, then); l.New > 3 && test.warmer == 1 {
				t.Errorf("%d new to the 60 hottest", l.New)
			}
		})
	}
}

// Darks that an earlier night's ledger remembers speak where the subs cannot.
func TestEarlierDarksSpeak(t *testing.T) {
	in := modern()
	in.DitherPx, in.Earlier = 0, &Earlier{stats.Known(0.004, 0.0001, 20), stats.Missing("none seen")}
	with := modern(given.Darks(300, 0, 0.002, 0.004))
	with.DitherPx = 0
	if w, want := OfDarks(in), OfDarks(with); w.Verdict() != want.Verdict() || w.Reason != LessNoise || !slices.Contains(w.Caveats, FromLedger) {
		t.Errorf("%q %q by the ledger, %q by darks", w.Verdict(), w.Reason, want.Verdict())
	}
	in.Earlier.Pattern, in.Earlier.Glow = stats.Known(0.0003, 0.0001, 20), stats.Known(3, 0.1, 20)
	in.Found = &Found{Pattern: stats.Missing("hidden"), AtMost: 2, Pixels: 24e6, Part: 0.1, Glow: SeenGlow{Height: stats.Missing("not told"), AtMost: 9, Place: sensor.Left, Area: 5000}}
	if w := OfDarks(in); w.Reason != Glow || slices.Contains(w.Caveats, PatternLimit) {
		t.Errorf("%+v", w)
	}
}

func hotOf(c *simCamera) int {
	n := 0
	for _, h := range c.hot {
		if h {
			n++
		}
	}
	return n
}

// What is of one colour in a mosaic is no pattern.
func TestPhases(t *testing.T) {
	rows := []float32{0, 1, 0, 1, 2, 3, 2, 3}
	for p := range 4 {
		if got := phase(rows, 4, p); !slices.Equal(got, []float32{float32(p), float32(p)}) {
			t.Errorf("phase %d: %v", p, got)
		}
	}
}

// A sub of which a part holds no values tells of the rest, and nothing of that.
func TestSubWithoutValuesInPart(t *testing.T) {
	const side = 256
	all := make([]int, side)
	for y := range all {
		all[y] = y
	}
	s := NewSeen(side, side, all, side, false)
	rng := rand.New(rand.NewPCG(4, 4))
	for k := range 4 {
		rows := make([]float32, side*side)
		for i := range rows {
			if rows[i] = float32(100 + 5*rng.NormFloat64()); k == 1 && i >= side*side/3 {
				rows[i] = float32(math.NaN())
			}
		}
		s.Add(rows, nil)
	}
	if top, end := s.halves[1].n[side], s.halves[1].n[side*side-2*side]; top != 2 || end != 1 {
		t.Errorf("%d and %d values where two and one sub have them", top, end)
	}
	for i, sum := range s.halves[1].sum {
		if math.IsNaN(float64(sum)) || !(math.Abs(float64(sum)) <= 60) { // eight standard deviations of two
			t.Fatalf("pixel %d: %g", i, sum)
		}
	}
}
