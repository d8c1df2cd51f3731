package subs

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// Under a Moon that stood there all along, a sky that is suddenly up is not the Moon's:
// where the light goes too it is cloud, and a lamp's where all of it arrives. Truth is
// what each sub was made with.
func TestMoonOfTheWholeNight(t *testing.T) {
	for _, moon := range []float64{-0.8, -2.5} { // twice and ten times the dark sky
		for _, c := range []struct {
			light float64
			cause Cause
		}{{1, BrightSky}, {0.6, Cloud}, {0.03, Cloud}} {
			night := makeNight(4, "L", 30, func(i int, tr *truth) {
				if between(i, 12, 20) {
					tr.sky, tr.transparency = 4, c.light
					if c.light < 0.1 {
						tr.stars = 0
					}
				}
			})
			for _, s := range night {
				s.Sky.MoonAlt, s.Sky.MoonlightMag = stats.Known(30, math.NaN(), 0), stats.Known(moon, math.NaN(), 0)
			}
			Judge(night, DefaultLimits)
			for i, s := range night {
				if bad := between(i, 12, 20); bad != (s.Verdict != Keep) || bad && s.Causes[0] != c.cause {
					t.Errorf("Moonlight of %.1f mag, light %.2f: %s %s %v %s", moon, c.light, s.File, s.Verdict, s.Causes, told(s))
				}
			}
		}
	}
}

// Cloud that thickens until no star is left, for as long as it stays, is cloud from end to
// end; so are the few stars before and after it that no light is told by. Without cloud
// around, missing stars are what they are.
func TestStarsGoneInCloud(t *testing.T) {
	for _, clouded := range []bool{true, false} {
		night := makeNight(6, "L", 40, func(i int, tr *truth) {
			switch {
			case between(i, 14, 28):
				tr.stars = 0
			case clouded && (i == 11 || i == 30):
				tr.transparency = 0.4
			}
		})
		untold := stats.Missing("too few stars")
		for _, i := range []int{12, 13, 28, 29} {
			night[i].Field.Count = 150
			night[i].Transparency = photometry.Transparency{Ratio: untold, Unevenness: untold}
		}
		Judge(night, DefaultLimits)
		for i := 12; i < 30; i++ {
			want := map[bool]Cause{true: Cloud, false: FewStars}[clouded]
			if !clouded && night[i].Field.Count == 0 {
				want = NoStars
			}
			if s := night[i]; s.Verdict == Keep || s.Causes[0] != want {
				t.Errorf("clouded %v: %s %s %v, want %s: %s", clouded, s.File, s.Verdict, s.Causes, want, told(s))
			}
		}
	}
}

// What dew leaves of few stars looks uneven: where halos grew with the fall, its last subs
// are dewed as the others are, until they are wiped; without halos it may be a cloud's edge.
func TestUnevenEndOfDew(t *testing.T) {
	for _, halo := range []float64{0, 0.15, 0.3} {
		night := makeNight(9, "R", 30, func(i int, tr *truth) {
			if between(i, 9, 25) {
				tr.transparency = math.Exp(-0.07 * float64(i-8))
				tr.halo = halo * (1/tr.transparency - 1)
			}
			if between(i, 22, 25) {
				tr.uneven = 7
			}
		})
		Judge(night, DefaultLimits)
		want := map[bool]Cause{true: Dewed, false: Cloud}[halo > 0]
		for i := 22; i <= 24; i++ {
			if s := night[i]; s.Verdict != Cull || s.Causes[0] != want {
				t.Errorf("halo %.2f: %s %s %v, want %s: %s", halo, s.File, s.Verdict, s.Causes, want, told(s))
			}
		}
	}
}

// Where the light of each sub is known to some percent only, a fall of dew wavers by as much;
// what it leaves of the last sub's stars tells no light.
func TestDewOfFewStars(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3, 4, 5, 6} {
		rng := rand.New(rand.NewPCG(seed, 3))
		night := makeNight(seed, "R", 26, func(i int, tr *truth) {
			if between(i, 9, 22) {
				tr.transparency = math.Exp(-0.1 * float64(i-8))
			}
		})
		for _, s := range night {
			s.Transparency.Ratio.V *= 1 + 0.05*rng.NormFloat64()
			s.Transparency.Ratio.Err = 0.05 * s.Transparency.Ratio.V
		}
		night[21].Field.Count, night[21].Transparency.Ratio = 20, stats.Missing("too few stars")
		Judge(night, DefaultLimits)
		for _, s := range night[16:22] {
			if s.Verdict != Cull || s.Causes[0] != Dewed {
				t.Errorf("seed %d: %s %s %v: %s", seed, s.File, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// shade gives a sub the light of its parts, and the noise that their sky makes of it.
func shade(s *Sub, light, sky func(k int) float64) {
	s.Transparency.Map, s.Field.NoiseParts, s.Field.SkyParts = nil, nil, nil
	for k := range stars.SkyParts * stars.SkyParts {
		s.Field.SkyParts = append(s.Field.SkyParts, s.SkyADU.V*sky(k/2/stars.SkyParts*stars.Parts+k%stars.SkyParts/2))
	}
	for k := range stars.Parts * stars.Parts {
		s.Transparency.Map = append(s.Transparency.Map, s.Transparency.Ratio.V*light(k))
		s.Field.NoiseParts = append(s.Field.NoiseParts, s.RandomNoise.V*math.Sqrt(sky(k)))
	}
}

// What takes the sky's light with the stars' stands before the telescope, whether over all
// of the field or a part; cloud takes the stars' alone, under a dark sky some of its. A sky
// that fell for itself, as the Moon set, tells nothing. Truth is what each sub was made with.
func TestShadeIsNoCloud(t *testing.T) {
	for _, c := range []struct {
		name       string
		light, sky float64 // of what is behind it
		parts      int     // so many are
		all        float64 // the sky of all of the field
		cause      Cause
		offset     bool // known: the level tells the sky
	}{
		{"a cap before half of the aperture", 0.45, 0.45, 16, 1, Obstructed, true},
		{"leaves over half of the field", 0.4, 0.4, 8, 1, Obstructed, true},
		{"lit leaves", 0.4, 0.55, 8, 1, Obstructed, true},
		{"a lit roof that hides all stars of a part", 0, 0.38, 8, 1, Obstructed, true},
		{"cloud", 0.4, 1.1, 8, 1, Cloud, true},
		{"cloud under a dark sky", 0.4, 0.8, 8, 1, Cloud, true},
		{"cloud as the Moon sets", 0.4, 1, 8, 0.35, Cloud, true},
		{"no offset: a cap before half of the aperture", 0.45, 0.45, 16, 1, Obstructed, false},
		{"no offset: lit leaves", 0.4, 0.55, 8, 1, Obstructed, false},
		{"no offset: cloud as the Moon sets", 0.4, 1, 8, 0.35, Cloud, false},
	} {
		night := makeNight(12, "L", 20, nil)
		for i, s := range night {
			s.Calibrated = c.offset
			if shade(s, func(int) float64 { return 1 }, func(int) float64 { return 1 }); !between(i, 9, 12) {
				continue
			}
			in := func(x float64) func(k int) float64 {
				return func(k int) float64 {
					if k < c.parts {
						return x
					}
					return 1
				}
			}
			s.RandomNoise.V, s.SkyADU.V = s.RandomNoise.V*math.Sqrt(c.all), s.SkyADU.V*c.all
			shade(s, in(c.light), in(c.sky))
			share := float64(c.parts) / (stars.Parts * stars.Parts)
			s.Transparency.Ratio.V *= 1 - share*(1-c.light)
			if share < 1 {
				s.Transparency.Unevenness.V = 100 * (1 - c.light) * math.Sqrt(share*(1-share))
			}
		}
		Judge(night, DefaultLimits)
		for _, s := range night[9:12] {
			if s.Verdict == Keep || s.Causes[0] != c.cause {
				t.Errorf("%s: %s %s %v, want %s: %s", c.name, s.File, s.Verdict, s.Causes, c.cause, told(s))
			}
		}
	}
}

// A loss that is even comes and goes with a cloud, all of it, however many subs it covers; haze
// lasts, but for its ends, whose light changes.
func TestPassingCloudIsNoHaze(t *testing.T) {
	for _, c := range []struct {
		minutes float64 // from sub to sub
		length  int
		inner   Cause
	}{{5, 3, Cloud}, {5, 5, Cloud}, {5, 14, Haze}, {1, 14, Cloud}} {
		night := makeNight(12, "L", 40, func(i int, tr *truth) {
			if between(i, 12, 12+c.length) {
				tr.transparency = 0.5
			}
		})
		for i, s := range night {
			s.Start = night[0].Start.Add(time.Duration(float64(i) * c.minutes * float64(time.Minute)))
		}
		Judge(night, DefaultLimits)
		if s := night[12+c.length/2]; s.Causes[0] != c.inner {
			t.Errorf("the middle of %d, %g min each: %v, want %s: %s", c.length, c.minutes, s.Causes, c.inner, told(s))
		}
	}
}

// What covers more and more of the field from a soft edge on took the light of the first subs too,
// which are no more than uneven, all in one way.
func TestGrowingCoverWasThereBefore(t *testing.T) {
	night := makeNight(6, "L", 20, nil)
	for i, s := range night[13:] {
		hidden := 0.01 + 0.11*float64(i)
		s.Transparency.Ratio.V *= 0.93 - hidden
		s.Transparency.Unevenness = stats.Known(12+15*float64(i), 1, 16)
		if i > 0 {
			s.Transparency.Covered = stats.Known(hidden, 0.005, 100)
		}
		s.Transparency.Map = make([]float64, 16)
		for k := range s.Transparency.Map {
			s.Transparency.Map[k] = 1 - hidden*float64(k%4)/2
		}
	}
	Judge(night, DefaultLimits)
	for _, s := range night[13:] {
		if len(s.Causes) != 1 || s.Causes[0] != Obstructed {
			t.Errorf("%s: %v: %s", s.File, s.Causes, told(s))
		}
	}
}

// Light that a cover took is neither haze nor the air's.
func TestCoverIsNoHaze(t *testing.T) {
	night := makeNight(5, "L", 20, nil)
	for i, s := range night[14:] {
		left := 0.6 - 0.09*float64(i)
		s.Transparency.Ratio.V *= left
		s.Transparency.Covered = stats.Known(1-left, 0.02, 100)
		s.Transparency.Unevenness = stats.Known(100*math.Sqrt(left*(1-left)), 3, 16)
	}
	Judge(night, DefaultLimits)
	for _, s := range night[14:] {
		if len(s.Causes) != 1 || s.Causes[0] != Obstructed {
			t.Errorf("%s: %v: %s", s.File, s.Causes, told(s))
		}
	}
}
