package subs

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/names"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// wantVerdicts checks every sub: spoiled names the indices that must be culled
// with the given leading cause, all others must be kept unless doubtful is true
// for them.
func wantVerdicts(t *testing.T, subs []*Sub, spoiled func(i int) Cause, mayDoubt func(i int) bool) {
	t.Helper()
	for i, s := range subs {
		want := spoiled(i)
		switch {
		case want != "" && (s.Verdict != Cull || s.Causes[0] != want):
			t.Errorf("%s: %s %v (%s), want cull for %s", s.File, s.Verdict, s.Causes, told(s), want)
		case want == "" && s.Verdict != Keep && !(mayDoubt != nil && mayDoubt(i) && s.Verdict == Doubtful):
			t.Errorf("%s: %s %v (%s), want keep", s.File, s.Verdict, s.Causes, told(s))
		}
	}
}

func between(i, from, to int) bool { return i >= from && i < to }

func TestCauses(t *testing.T) {
	for _, c := range []struct {
		name     string
		change   func(i int, tr *truth)
		spoiled  func(i int) Cause
		mayDoubt func(i int) bool
	}{
		{name: "clear", spoiled: func(int) Cause { return "" }},
		{"cloud lit from below over six in ten", func(i int, tr *truth) {
			if between(i, 10, 34) {
				tr.transparency, tr.sky, tr.uneven = 0.25+0.2*math.Abs(math.Sin(float64(i))), 1.5, 7
			}
		}, func(i int) Cause {
			if between(i, 10, 34) {
				return Cloud
			}
			return ""
		}, nil},
		{"trailed run", func(i int, tr *truth) {
			if between(i, 5, 9) {
				tr.ellipticity, tr.coherence, tr.angle, tr.fwhm = 0.4, 0.95, -62, 4.4
			}
		}, func(i int) Cause {
			if between(i, 5, 9) {
				return Trailed
			}
			return ""
		}, nil},
		{"optics elongate every star a little", func(i int, tr *truth) { tr.ellipticity, tr.coherence = 0.1, 0.9 },
			func(i int) Cause { return "" }, nil},
		{"every star drawn out by a quarter", func(i int, tr *truth) { tr.ellipticity, tr.coherence = 0.26, 0.95 },
			func(i int) Cause { return "" }, func(int) bool { return true }},
		{"round subs among trailed ones", func(i int, tr *truth) {
			if tr.ellipticity, tr.coherence = 0.13, 0.5; i%3 > 0 {
				tr.ellipticity, tr.coherence = 0.5, 0.95
			}
		}, func(i int) Cause { return map[bool]Cause{true: Trailed}[i%3 > 0] }, nil},
		{"elongation without direction", func(i int, tr *truth) {
			if i > 20 {
				tr.ellipticity, tr.coherence = 0.45, 0.2
			}
		}, func(i int) Cause { return "" }, nil},
		{"focus drifts away", func(i int, tr *truth) {
			switch {
			case i >= 34:
				tr.fwhm *= 1.75
			case i >= 27:
				tr.fwhm *= 1.15
			}
		}, func(i int) Cause {
			if i >= 34 {
				return Soft
			}
			return ""
		}, func(i int) bool { return between(i, 27, 34) }},
		{"cap on", func(i int, tr *truth) {
			if i < 2 {
				tr.stars, tr.sky = 0, 0.02
			}
		}, func(i int) Cause {
			if i < 2 {
				return NoStars
			}
			return ""
		}, nil},
		{"cloud without a star left", func(i int, tr *truth) {
			if between(i, 11, 14) {
				tr.stars, tr.sky = 0, 1.8
			}
		}, func(i int) Cause {
			if between(i, 11, 14) {
				return Cloud
			}
			return ""
		}, nil},
		{"dawn, site unknown", func(i int, tr *truth) {
			if i >= 36 {
				tr.sky = math.Pow(2, float64(i-35))
			}
		}, func(i int) Cause {
			if i >= 37 {
				return Twilight
			}
			return ""
		}, func(i int) bool { return i == 36 }},
		{"dusk of the second night, site unknown", func(i int, tr *truth) {
			if between(i, 20, 24) {
				tr.sky = math.Pow(2, float64(24-i))
			}
		}, func(i int) Cause {
			if between(i, 20, 23) {
				return Twilight
			}
			return ""
		}, func(i int) bool { return i == 23 }},
		{"a lamp for three subs", func(i int, tr *truth) {
			if between(i, 20, 23) {
				tr.sky = 4
			}
		}, func(i int) Cause {
			if between(i, 20, 23) {
				return BrightSky
			}
			return ""
		}, nil},
		{"haze", func(i int, tr *truth) {
			if i > 15 {
				tr.transparency = 1 - 0.013*float64(i-15)
			}
		}, func(i int) Cause { return "" }, func(i int) bool { return i >= 30 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			night := makeNight(1, "R", 40, c.change)
			if strings.Contains(c.name, "second night") {
				for _, s := range night[20:] {
					s.Start = s.Start.Add(12 * time.Hour)
				}
			}
			Judge(night, DefaultLimits)
			wantVerdicts(t, night, c.spoiled, c.mayDoubt)
		})
	}
}

// A night that trails or is soft from end to end is not held against itself, and
// says so. No sub of it is culled for what they all have, but what no stack bears;
// where others are better, the same is culled.
func TestGroupPoorAsAWhole(t *testing.T) {
	trail := func(e float64) func(*truth) {
		return func(tr *truth) { tr.ellipticity, tr.coherence, tr.angle = e, 0.95, -60 }
	}
	wide := func(px float64) func(*truth) { return func(tr *truth) { tr.fwhm = px } }
	for _, c := range []struct {
		name        string
		rest, odd   func(*truth) // every third is odd
		cause       Cause
		rests, odds Verdict
	}{
		{"trails, 0.31", trail(0.33), trail(0.33), Trailed, Doubtful, Doubtful},
		{"trails, some worse", trail(0.32), trail(0.42), Trailed, Doubtful, Cull},
		{"lines", trail(0.52), trail(0.52), Trailed, Cull, Cull},
		{"some trail", trail(0.05), trail(0.45), Trailed, Keep, Cull},
		{"soft, 10 arcsec", wide(10), wide(10), Soft, Doubtful, Doubtful},
		{"discs, 20 arcsec", wide(20), wide(20), Soft, Cull, Cull},
		{"some soft", wide(6), wide(10), Soft, Keep, Cull},
	} {
		night := makeNight(1, "R", 21, func(i int, tr *truth) {
			if i%3 == 2 {
				c.odd(tr)
			} else {
				c.rest(tr)
			}
		})
		for _, s := range night {
			s.PixelScale = 1
		}
		res := Judge(night, DefaultLimits)
		for i, s := range night {
			want := c.rests
			if i%3 == 2 {
				want = c.odds
			}
			if s.Verdict != want || want != Keep && s.Causes[0] != c.cause {
				t.Errorf("%s: %s is %s %v, want %s: %s", c.name, s.File, s.Verdict, s.Causes, want, told(s))
			}
		}
		if g := res.Groups[0]; (len(g.Poor) == 1 && g.Poor[0] == c.cause) != (c.rests != Keep) {
			t.Errorf("%s: poor for %v, notes %v", c.name, g.Poor, g.Notes)
		}
	}
}

// Air that takes less than is assumed does not make low subs, blurred by it, the
// only clear ones, against which none is soft.
func TestClearAirLowDown(t *testing.T) {
	low := func(i int) bool { return i%4 == 1 }
	night := makeNight(1, "R", 24, func(i int, tr *truth) {
		if low(i) {
			tr.transparency, tr.fwhm = 0.95, 7
		}
	})
	for i, s := range night {
		s.Sky.Airmass = stats.Known(1.05, 0, 1)
		if low(i) {
			s.Sky.Airmass.V = 2.3
		}
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause {
		if low(i) {
			return Soft
		}
		return ""
	}, nil)
}

// A sub whose width throws its stars away is measured wrong, and not culled for it.
func TestWidthOfHotPixels(t *testing.T) {
	night := makeNight(1, "R", 20, func(i int, tr *truth) {
		if i == 7 || i == 12 || i == 15 {
			tr.fwhm, tr.stars = 1, 30
		}
	})
	night[15].Transparency.Ratio.V = 0.02 // of what else matched
	night[12].Transparency.Ratio, night[12].Align.ShiftX = stats.Missing("not matched"), stats.Missing("not matched")
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, func(i int) bool { return i == 7 || i == 12 || i == 15 })
	for _, i := range []int{7, 12, 15} {
		if s := night[i]; s.Verdict != Doubtful || !fact.Has(s.Findings[0].Facts, NoStarsWidth) {
			t.Errorf("%s: %s: %s", s.File, s.Verdict, told(s))
		}
	}
}

// In a field of eight stars a count tells nothing, also beside a cloud, unless the sky is
// bright as well.
func TestCountsOfAHandful(t *testing.T) {
	night := makeNight(6, "Ha", 14, func(i int, tr *truth) { tr.stars = 8 })
	for i, s := range night {
		s.Field.Count = []int{8, 7, 9, 8, 4, 8, 5, 8}[i%8]
		if i > 2 {
			s.Transparency.Ratio, s.Align.ShiftX = stats.Missing("too few"), stats.Missing("too few")
		}
	}
	night[7].Field.Count, night[10].Field.Count = 3, 3
	night[8].Field.Count, night[8].SkyADU.V, night[8].Transparency.Ratio.V = 3, 1300, 0.3
	night[8].Transparency.Ratio = stats.Known(0.3, 0.02, 4)
	lit := night[6]
	lit.Field.Count, lit.SkyADU.V = 3, 1600
	Judge(night, DefaultLimits)
	if lit.Verdict != Cull || lit.Causes[0] != Cloud {
		t.Errorf("three stars under a bright sky: %s %v %s", lit.Verdict, lit.Causes, told(lit))
	}
	for i, s := range night {
		if i != 8 && i != 6 && s.Verdict == Cull {
			t.Errorf("%s of %d stars: %s %v %s", s.File, s.Field.Count, s.Verdict, s.Causes, told(s))
		}
	}
}

// A few degrees off the set point matter where the dark current does: 300 s under
// 1000 electrons of sky.
func TestWarmSensorByItsDarkCurrent(t *testing.T) {
	for _, c := range []struct {
		dark stats.Value
		want Verdict
	}{{stats.Known(0.002, 0.0003, 10), Keep}, {stats.Known(0.3, 0.01, 10), Doubtful}, {stats.Known(0, 0.05, 10), Doubtful}, {stats.Missing("no darks"), Doubtful}} {
		night := makeNight(1, "R", 20, nil)
		for _, s := range night {
			s.DarkRate = c.dark
		}
		night[3].SensorTemp = -6
		Judge(night, DefaultLimits)
		if s := night[3]; s.Verdict != c.want {
			t.Errorf("dark current %v: %s: %s", c.dark, s.Verdict, told(s))
		}
	}
}

// A sensor colder than the group's lacks its dark current at most, and adds no noise of its
// own: it counts where what the darks take too much does.
func TestColdSensorByItsDarkCurrent(t *testing.T) {
	for _, c := range []struct {
		dark, colder float64 // e-/s, °C
		want         Verdict
	}{{0.01, 5, Keep}, {0.015, 10, Keep}, {0.015, 30, Keep}, {0.3, 5, Doubtful}, {0.1, 15, Doubtful}} {
		night := makeNight(1, "R", 20, nil)
		for _, s := range night {
			s.DarkRate = stats.Known(c.dark, 0.05*c.dark, 10)
		}
		night[3].SensorTemp -= c.colder
		Judge(night, DefaultLimits)
		if s := night[3]; s.Verdict != c.want {
			t.Errorf("dark current %v, %v °C colder: %s: %s", c.dark, c.colder, s.Verdict, told(s))
		}
	}
}

// What is left of a night is judged as it was with the culled subs beside it.
func TestSecondPassCullsNothingNew(t *testing.T) {
	nights := uint64(30)
	if testing.Short() {
		nights = 8
	}
	for seed := range nights {
		night := makeNight(seed, "R", 60, func(i int, tr *truth) {
			tr.fwhm *= 1 + 0.6*math.Abs(math.Sin(float64(i)+float64(seed)))
			tr.transparency = 1 - 0.5*math.Abs(math.Sin(1.7*float64(i)))
			tr.sky = 1 + 2*math.Abs(math.Sin(2.3*float64(i)))
		})
		for _, s := range judgedTwice(night) {
			if s.Verdict == Cull {
				t.Errorf("seed %d: %s culled by the second pass: %s", seed, s.File, told(s))
			}
		}
	}
}

// A read-out whose alternate rows differ is named once for the group, where that is
// a part of the noise worth a word.
func TestAlternateRowsAreNamed(t *testing.T) {
	for by, want := range map[float64]bool{0: false, 0.05: false, 0.5: true, -3: true} { // of a pixel's noise
		night := makeNight(3, "R", 12, nil)
		for i, s := range night {
			s.Field.OddRows = stats.Known(by*s.NoiseADU.V*float64(i%2), 0.01*s.NoiseADU.V, 100)
		}
		res := Judge(night, DefaultLimits)
		wantVerdicts(t, night, func(int) Cause { return "" }, nil)
		notes := res.Groups[0].Notes
		got := fact.Has(notes, AlternateLines)
		if got != want || want && notes[0].Values[2] != fact.Count("subs", 6) {
			t.Errorf("%g of the noise: notes %v", by, notes)
		}
	}
}

// A camera that is not regulated cools with the evening; one that does not reach
// its set point is off all night. Neither spoils a sub, and both ask for darks.
func TestTemperatureAloneCullsNothing(t *testing.T) {
	for name, set := range map[string]float64{"unregulated": math.NaN(), "off": 5} {
		night := makeNight(3, "R", 30, nil)
		for i, s := range night {
			s.SensorTemp, s.SetTemp = 24-13*float64(i)/29, set
		}
		res := Judge(night, DefaultLimits)
		wantVerdicts(t, night, func(int) Cause { return "" }, nil)
		if n := res.Groups[0].Notes; len(n) != 1 || n[0].Code != SensorRange && n[0].Code != SensorDrift {
			t.Errorf("%s: notes %v", name, n)
		}
	}
	night := makeNight(3, "R", 30, nil)
	for _, s := range night {
		s.SensorTemp, s.SetTemp = -8.1, -10.1 // the difference is 2.0000000000000000 or a little more
	}
	if Judge(night, DefaultLimits); night[0].Verdict != Keep {
		t.Errorf("2.0 °C off: %s", told(night[0]))
	}
	// Warmth that makes noise is judged as noise.
	night = makeNight(3, "R", 30, func(i int, tr *truth) {})
	night[4].SensorTemp, night[4].RandomNoise.V = 15, 60
	if Judge(night, DefaultLimits); night[4].Verdict != Cull || night[4].Causes[0] != WrongSettings {
		t.Errorf("%s %v %s", night[4].Verdict, night[4].Causes, told(night[4]))
	}
}

// Moon and haze that most subs see make them lighter, and a loss to nobody; the
// strictest of cloud and sky stands.
func TestLightWeighs(t *testing.T) {
	night := makeNight(5, "R", 36, func(i int, tr *truth) {
		if i >= 10 {
			tr.sky = 4
		}
	})
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, func(int) bool { return true })
	night = makeNight(5, "R", 36, func(i int, tr *truth) {
		if i >= 18 {
			tr.transparency = 0.72
		}
	})
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
	for _, loose := range []float64{0.5, 0.1} {
		lim := DefaultLimits
		lim.TransparencyCull = loose
		night = makeNight(5, "R", 36, func(i int, tr *truth) {
			if i == 20 {
				tr.transparency, tr.sky = 0.75, 7
			}
		})
		Judge(night, lim)
		wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: Cloud}[i == 20] }, nil)
	}
}

// What is large beside stars as sharp as the group's is no star out of focus; one faint
// sharp image, one bright one of dozens, whose fit went astray, what no other sub shows, or
// such as only hot pixels make, keep no soft sub.
func TestSoftHasNoSharpStars(t *testing.T) {
	for _, c := range []struct {
		sharp, of  int
		times, snr float64 // the baseline
		tied       bool
		want       Verdict
	}{{0, 24, 1, 30, true, Cull}, {1, 24, 1, 30, true, Cull}, {4, 24, 1, 30, true, Doubtful}, {4, 24, 0.4, 30, true, Cull}, {4, 24, 1, 30, false, Cull}, {1, 24, 1, 90, true, Doubtful}, {2, 80, 1, 90, true, Cull}} {
		s := one(t, func(s *Sub) {
			s.Field.FWHM.V *= 1.9
			for i := range c.of {
				st := stars.Star{Fitted: true, SNR: c.snr, FWHM: s.Field.FWHM.V}
				if i < c.sharp {
					st.FWHM = c.times * goodSub.fwhm
				}
				if s.Field.Stars = append(s.Field.Stars, st); i >= c.sharp || c.tied {
					s.Align.Pairs = append(s.Align.Pairs, [2]int{i, i})
				}
			}
		})
		if s.Verdict != c.want || s.Causes[0] != Soft {
			t.Errorf("%+v: %s %v %s", c, s.Verdict, s.Causes, told(s))
		}
	}
}

// Two subs of an exposure of their own are held to the width of their filter.
func TestExposuresShareWidth(t *testing.T) {
	night := makeNight(6, "R", 14, nil)
	for i, s := range night[12:] {
		s.Exposure, s.Stack = 120, 1
		s.Field.FWHM.V = []float64{3.4, 8.4}[i]
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: Soft}[i == 13] }, nil)
}

// What is out of focus is culled by what is sharp, though an average of all is worth as
// much.
func TestSharpOrSoft(t *testing.T) {
	for _, soft := range []int{4, 12, 16} {
		night := makeNight(7, "R", 24, func(i int, tr *truth) {
			if i >= 24-soft {
				tr.fwhm *= 1.6
			}
		})
		Judge(night, DefaultLimits)
		wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: Soft}[i >= 24-soft] }, nil)
	}
}

// Each aim culls what the one before it culls, and more.
func TestAims(t *testing.T) {
	culled := map[Aim]int{}
	for aim := range aims {
		lim := DefaultLimits
		lim.Aim = aim
		night := makeNight(7, "R", 40, func(i int, tr *truth) {
			if i >= 20 {
				tr.fwhm *= 1 + 0.06*float64(i-20)
			}
			if i < 8 {
				tr.ellipticity, tr.coherence = 0.06*float64(i+1), 0.95
			}
		})
		Judge(night, lim)
		for _, s := range night {
			if s.Verdict == Cull {
				culled[aim]++
			}
		}
	}
	if !(0 < culled[Depth] && culled[Depth] < culled[Balance] && culled[Balance] < culled[Detail]) {
		t.Errorf("culled %v", culled)
	}
}

// A level that rises without the noise that light brings is the camera's offset, in subs
// with little sky; with it, it is light.
func TestRisenOffset(t *testing.T) {
	for _, lit := range []bool{false, true} {
		night := makeNight(12, "R", 30, nil)
		for i, s := range night {
			level, noise := 5.+float64(i%3), 6. // ADU: read noise rules
			if i == 20 || i == 25 {
				level = 30
				if lit {
					noise = math.Sqrt(noise*noise + 25)
				}
			}
			s.SkyADU = stats.Known(level, 0.01, 1000)
			s.NoiseADU, s.RandomNoise = stats.Known(noise, 0.02, 1000), stats.Known(noise, 0.02, 1000)
		}
		Judge(night, DefaultLimits)
		for i, s := range night {
			if want := lit && (i == 20 || i == 25); (s.Verdict != Keep) != want {
				t.Errorf("lit %v: sub %d %s %v %s", lit, i, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// Rings, whose light comes out too high, are no clear subs by which sharp ones are judged.
func TestRingsAreNoReference(t *testing.T) {
	night := makeNight(14, "R", 26, func(i int, tr *truth) {
		tr.fwhm *= 1 + 0.15*math.Max(0, float64(i-6))
		if i >= 20 {
			tr.transparency = 1.22
		}
	})
	for _, s := range night[20:] {
		s.Field.Defocused, s.Field.FWHM = true, stats.Missing("rings")
	}
	Judge(night, DefaultLimits)
	for i, s := range night {
		if want := map[bool]Verdict{true: Keep, false: Cull}[i < 8]; (i < 8 || i > 13) && s.Verdict != want {
			t.Errorf("sub %d: %s %v %s", i, s.Verdict, s.Causes, told(s))
		}
	}
}

// Dew takes light steadily until the night ends or it is wiped off; a cloud that
// passes does not.
func TestDew(t *testing.T) {
	const halo = 0.3 // of the light lost, as much of it stands around the stars
	steps := func(i int) float64 { return []float64{1, 0.75, 0.5, 0.33}[min(3, max(0, (i-6)/6))] }
	fall := func(i, from int) float64 { return math.Exp(-0.055 * math.Max(0, float64(i-from))) }
	for _, c := range []struct {
		name  string
		light func(i int) float64
		halo  float64
		cause Cause
		words string
	}{
		{"to the end", func(i int) float64 { return fall(i, 12) }, 0, Dewed, string(FallingUnhaloed)},
		{"to the end, with halos", func(i int) float64 { return fall(i, 12) }, halo, Dewed, string(FallingHaloed)},
		{"wiped off", func(i int) float64 { return map[bool]float64{true: fall(i, 8), false: 1}[i < 25] }, 0, Dewed, string(FallingUnhaloed)},
		{"in steps, with halos", steps, halo, Dewed, string(FallingHaloed)},
		{"dried by a heater, with halos", func(i int) float64 { return fall(min(i, 24), 4) + 0.2*math.Max(0, float64(i-24)) }, halo, Dewed, string(FallingHaloed)},
		{"dried by a heater", func(i int) float64 { return math.Min(1, fall(min(i, 20), 4)+0.15*math.Max(0, float64(i-20))) }, 0, Dewed, string(FallingUnhaloed)},
		{"dried by a weak heater", func(i int) float64 { return math.Min(1, fall(min(i, 22), 4)+0.09*math.Max(0, float64(i-22))) }, 0, Dewed, string(FallingUnhaloed)},
		{"a cloud that goes as it came", func(i int) float64 { return math.Min(1, fall(min(i, 18), 3)+0.05*math.Max(0, float64(i-18))) }, 0, Cloud, "transparency"},
		{"in steps", steps, 0, Cloud, "transparency"},
		{"at once, with halos", func(i int) float64 { return map[bool]float64{true: 1, false: 0.4}[i < 15] }, halo, Cloud, "transparency"},
		{"a cloud", func(i int) float64 { return 1 - 0.6*math.Sin(math.Pi*float64(i)/29) }, 0, Cloud, "transparency"},
		{"cirrus", func(i int) float64 { return 1 - 0.6*math.Sin(math.Pi*float64(i)/29) }, halo, Cloud, "transparency"},
	} {
		night := makeNight(9, "R", 30, func(i int, tr *truth) {
			tr.transparency = c.light(i)
			tr.halo = c.halo * (1/tr.transparency - 1)
		})
		Judge(night, DefaultLimits)
		bad := 0
		for _, s := range night {
			if s.Verdict == Cull {
				even := s.Causes[0] == Haze && c.cause == Cloud && (c.halo == 0 || s.Transparency.Ratio.V > cloudThickness) // while a step lasts, or in the middle of what is not thick
				if bad++; s.Causes[0] != c.cause && !even || !strings.Contains(told(s), c.words) {
					t.Errorf("%s: %s %v %s", c.name, s.File, s.Causes, told(s))
				}
			}
		}
		if bad == 0 {
			t.Errorf("%s: nothing culled", c.name)
		}
	}
	// A cloud that passes while dew settles.
	clouded := makeNight(9, "R", 30, func(i int, tr *truth) {
		tr.transparency, tr.halo = steps(i), halo*(1/steps(i)-1)
		switch {
		case i == 13: // its thin edge
			tr.transparency, tr.sky = 0.95*tr.transparency, 1.13
		case between(i, 14, 17):
			tr.transparency, tr.sky, tr.uneven = 0.7*tr.transparency, 1.4, 9
		}
	})
	Judge(clouded, DefaultLimits)
	for i, s := range clouded {
		if want := map[bool]Cause{true: Cloud, false: Dewed}[i < 17]; s.Verdict == Cull && s.Causes[0] != want {
			t.Errorf("dew and a cloud: %s %v %s", s.File, s.Causes, told(s))
		}
	}
	// Dew over groups of a few subs each, which are told by their halos together; and one
	// last sub, which may be a cloud's too.
	var sequence []*Sub
	for g, filter := range []names.Name{"L", "R", "G", "B"} {
		part := makeNight(uint64(g), filter, 5, func(i int, tr *truth) {
			tr.transparency = math.Exp(-0.25 * math.Max(0, float64(5*g+i-12)))
			tr.halo = 0.4 * (1/tr.transparency - 1)
		})
		for i, s := range part {
			s.Start, s.Stack = begin.Add(time.Duration(5*g+i)*5*time.Minute), g
		}
		sequence = append(sequence, part...)
	}
	Judge(sequence, DefaultLimits)
	if s := sequence[19]; s.Verdict != Cull || s.Causes[0] != Dewed || slices.Contains(s.Causes, Cloud) {
		t.Errorf("over filters: %s %v %s", s.Verdict, s.Causes, told(s))
	}
	// Two exposures in turn, of which the short ones' sky scatters with the offset; neither has
	// enough in the fall by itself.
	var inTurn []*Sub
	for g := range 2 {
		part := makeNight(uint64(g+3), "R", 10, func(i int, tr *truth) {
			tr.transparency = math.Exp(-0.13 * math.Max(0, float64(2*i+g-11)))
			tr.sky = 1 + 0.08*float64(g)*[]float64{-1, 1, 0.3, -1, 1.2, -0.7, 0.2, -1, 1.4, 1.2}[i]
		})
		for i, s := range part {
			s.Start, s.Stack, s.Exposure = begin.Add(time.Duration(2*i+g)*5*time.Minute), g, 300/(1+3*float64(g))
		}
		inTurn = append(inTurn, part...)
	}
	Judge(inTurn, DefaultLimits)
	for _, s := range []*Sub{inTurn[8], inTurn[9], inTurn[18], inTurn[19]} {
		if s.Verdict == Keep || s.Causes[0] != Dewed {
			t.Errorf("two exposures in turn: %s of %v s %s %v %s", s.File, s.Exposure, s.Verdict, s.Causes, told(s))
		}
	}
	last := makeNight(9, "R", 20, func(i int, tr *truth) {
		if i == 19 {
			tr.transparency, tr.halo = 0.3, 0.9
		}
	})
	Judge(last, DefaultLimits)
	if s := last[19]; s.Verdict != Cull || len(s.Causes) != 2 || s.Causes[0] != Dewed || s.Causes[1] != Cloud {
		t.Errorf("the last alone: %s %v %s", s.Verdict, s.Causes, told(s))
	}
	// Halos that one sub of thin cloud does not show are not gone at once: its light is not back.
	cirrus := []float64{0.7, 0.57, 0.45, 0.41, 0.34, 0.33, 0.3, 0.29, 0.27, 0.29, 0.28, 0.3, 0.32, 0.4, 0.43, 0.48, 0.57, 0.68}
	thin := makeNight(9, "R", 28, func(i int, tr *truth) {
		if between(i, 7, 24) {
			tr.transparency = cirrus[i-7]
			tr.halo = 0.15 * (1/tr.transparency - 1)
		}
		if i == 20 {
			tr.halo = 0.02
		}
	})
	Judge(thin, DefaultLimits)
	for _, s := range thin {
		if s.Verdict == Cull && s.Causes[0] != Cloud {
			t.Errorf("thin cloud that goes as it came: %s %v %s", s.File, s.Causes, told(s))
		}
	}
	// A cloud that passes during the fall ends it no more than it began it.
	passed := makeNight(9, "R", 30, func(i int, tr *truth) {
		if tr.transparency = fall(i, 12); i == 18 || i == 19 {
			tr.transparency, tr.sky = tr.transparency/3, 1.5
		}
	})
	Judge(passed, DefaultLimits)
	if s := passed[28]; s.Verdict != Cull || s.Causes[0] != Dewed || passed[18].Causes[0] != Cloud {
		t.Errorf("after a passing cloud: %s %v %s; in it %v", s.Verdict, s.Causes, told(s), passed[18].Causes)
	}
	// One that cannot be compared with the others ends no fall.
	night := makeNight(9, "R", 30, func(i int, tr *truth) { tr.transparency = fall(i, 12) })
	night[26].Transparency = photometry.Transparency{Ratio: stats.Missing("too few stars"), Unevenness: stats.Missing("too few stars")}
	Judge(night, DefaultLimits)
	if s := night[25]; s.Verdict != Cull || s.Causes[0] != Dewed {
		t.Errorf("before one of unknown light: %s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// Frost settles from the middle on, and takes most of the light there in every sub; cloud that
// comes as steadily takes it now here, now there. Before, the light was more than the group's
// airmass allows for.
func TestFrostStandsStill(t *testing.T) {
	const side = stars.Parts
	for _, deep := range []float64{0.3, 0.6, 1} {
		for _, c := range []struct {
			name   string
			moving float64 // parts of the field from sub to sub
			cause  Cause
		}{{"frost", 0, Dewed}, {"cloud", 1.3, Cloud}} {
			var patterns [][]float64
			night := makeNight(9, "R", 30, func(i int, tr *truth) {
				depth := 0.055 * math.Max(0, float64(i-12))
				m := make([]float64, side*side)
				for k := range m {
					x := math.Mod(float64(k%side)+c.moving*float64(i), side) - float64(side-1)/2
					y := float64(k/side) - float64(side-1)/2
					m[k] = math.Exp(-depth * (1 - deep/2 + deep*math.Exp(-(x*x+y*y)/3)))
				}
				patterns = append(patterns, m)
				mean, sigma := stats.Mean(m), math.Sqrt(stats.Variance(m))
				tr.transparency, tr.uneven = 1.08*mean, 1+100*sigma/mean
			})
			for i, s := range night {
				s.Transparency.Map = patterns[i]
			}
			Judge(night, DefaultLimits)
			for _, s := range night[25:] {
				uneven := s.Transparency.Unevenness.V > DefaultLimits.UnevennessDoubtful+1
				if s.Verdict != Cull || (uneven || c.cause == Dewed) && s.Causes[0] != c.cause {
					t.Errorf("%s, deeper in the middle by %.1f: %s %s %v, uneven by %.1f: %s", c.name, deep, s.File, s.Verdict, s.Causes, s.Transparency.Unevenness.V, told(s))
				}
			}
		}
	}
}

// The Moon's light and the Sun's are told apart by where they stand.
func TestSkyCauses(t *testing.T) {
	night := makeNight(2, "R", 40, func(i int, tr *truth) {
		if i >= 20 {
			tr.sky = 4
		}
	})
	nan := math.NaN()
	for i, s := range night {
		s.Sky.SunAlt = stats.Known(-40+0.1*float64(i), nan, 0)
		s.Sky.MoonAlt = stats.Known(float64(i-15), nan, 0)
		s.Sky.MoonLitPct = stats.Known(97, nan, 0)
		s.Sky.MoonlightMag = stats.Known(-2.5, nan, 0) // ten times the dark sky
		if i < 15 {
			s.Sky.MoonlightMag = stats.Known(0, nan, 0)
		}
		if i >= 35 {
			s.Sky.SunAlt.V = -10
		}
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause {
		switch {
		case i >= 35:
			return Twilight
		case i >= 20:
			return Moonlit
		}
		return ""
	}, nil)
}

func TestBrokenFilesAndSettings(t *testing.T) {
	night := makeNight(3, "L", 40, nil)
	night[3].Field, night[3].ReadErr, night[3].TruncatedFile = nil, "12 of 40 bytes arrived (30 %)", true
	night[4].Field, night[4].ReadErr = nil, "malformed: no NAXIS"
	night[5].DuplicateOf = night[4].File
	night[6].GainSetting, night[6].Stack = 0, 1
	night[7].Exposure, night[7].Stack = 2, 2
	night[8].SensorTemp = -1
	night[9].Binning, night[9].Width, night[9].Height, night[9].Stack = 2, 800, 600, 3
	night[10].Filter, night[10].Stack = "Ha", 4
	Judge(night, DefaultLimits)
	want := map[int]Cause{3: Truncated, 4: Unreadable, 5: Duplicate, 6: WrongSettings, 7: WrongSettings, 9: WrongSettings}
	wantVerdicts(t, night, func(i int) Cause { return want[i] }, func(i int) bool { return i == 10 || i == 8 })
	if night[10].Verdict != Doubtful || night[10].Causes[0] != WrongSettings {
		t.Errorf("one Ha sub among L: %s %v", night[10].Verdict, night[10].Causes)
	}
	for _, s := range night {
		if len(s.Causes) != len(s.Findings) || len(s.Causes) > 0 && len(s.Findings[0].Facts) == 0 {
			t.Errorf("%s: %d causes, %d findings", s.File, len(s.Causes), len(s.Findings))
		}
	}
}

// A finding holds figure, baseline and limit.
func TestFacts(t *testing.T) {
	night := makeNight(1, "Ha", 12, func(i int, tr *truth) {
		if i == 6 {
			tr.fwhm = 4.9
		}
	})
	night[6].Field.FWHM.V = 4.9
	for i, s := range night {
		if i != 6 {
			s.Field.FWHM.V = 3.36
		}
	}
	Judge(night, DefaultLimits)
	if want := "width fwhm_px=4.9 times=1.46 whose=filter baseline_px=3.36, neighbours_sharp, limit limit=1.4"; told(night[6]) != want {
		t.Errorf("got  %s\nwant %s", told(night[6]), want)
	}
}

// Under five subs nothing is compared with the group, and the group says so.
func TestSmallGroup(t *testing.T) {
	night := makeNight(1, "Ha", 4, func(i int, tr *truth) {
		if i == 1 {
			tr.fwhm = 6 // 1.8 times the others': no absolute limit is passed at 0.8"/px
		}
		if i == 2 {
			tr.ellipticity, tr.coherence = 0.4, 0.9
		}
	})
	res := Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause {
		if i == 2 {
			return Trailed
		}
		return ""
	}, nil)
	if n := res.Groups[0].Notes; len(n) == 0 || n[0].Code != FewReadable {
		t.Errorf("notes %v do not say so", n)
	}
}

// The user's own decision wins and shows as such.
func TestDecisionWins(t *testing.T) {
	night := makeNight(1, "R", 20, func(i int, tr *truth) {
		if i == 3 {
			tr.ellipticity, tr.coherence = 0.5, 0.95
		}
	})
	left := ApplyDecisions(night, []Decision{{Keep, "R_003.fits", ""}, {Cull, "R_004.fits", ""}, {Cull, "nosuch.fits", ""}}, nil)
	res := Judge(night, DefaultLimits)
	if night[3].Verdict != Keep || !night[3].UserDecision || night[4].Verdict != Cull || !night[4].UserDecision || night[5].UserDecision {
		t.Errorf("verdicts %s %s %s", night[3].Verdict, night[4].Verdict, night[5].Verdict)
	}
	if night[3].Measured != Cull || night[3].Findings[0].Facts[0].Code != Elongation {
		t.Errorf("measured %s: %s", night[3].Measured, told(night[3]))
	}
	if len(left) != 1 || left[0] != "nosuch.fits" {
		t.Errorf("unmatched %q", left)
	}
	if got := res.Groups[0].Economics.UserDrop; got != 1 {
		t.Errorf("user drop %d, want 1", got)
	}
}

func TestNothingToJudge(t *testing.T) {
	if res := Judge(nil, DefaultLimits); len(res.Groups) != 0 || len(res.Events) != 0 {
		t.Errorf("%+v", res)
	}
	blank := &Sub{File: "x.fits", ReadErr: "malformed: empty file", Exposure: math.NaN(), GainSetting: math.NaN(), SensorTemp: math.NaN(), SetTemp: math.NaN()}
	res := Judge([]*Sub{blank}, DefaultLimits)
	if blank.Verdict != Cull || blank.Causes[0] != Unreadable || blank.Weight.OK() || len(res.Groups) != 1 {
		t.Errorf("%+v", blank)
	}
}

// A quarter of the field without light is obstructed, whatever its low noise
// promises; a cloud that hides as much dims the rest, or lights up the sky.
func TestObstructed(t *testing.T) {
	for _, c := range []struct {
		covered, lit, sky float64
		verdict           Verdict
		cause             Cause
	}{
		{0.05, 1, 1, Keep, ""},
		{0.15, 1, 0.9, Doubtful, Obstructed},
		{0.35, 1, 0.8, Cull, Obstructed},
		{0.63, 0.97, 0.6, Cull, Obstructed},
		{0.35, 0.6, 1, Cull, Cloud},
		{0.4, 0.9, 1.6, Cull, Cloud},
		{0.77, 0.13, 0.39, Cull, Obstructed}, // the stars that are left shine through the gaps
	} {
		s := one(t, func(s *Sub) {
			lit := s.RandomNoise.V
			s.SkyADU.V *= c.sky
			s.RandomNoise.V *= math.Sqrt(c.sky) // the median pixel's, which is covered or not
			s.Transparency.Ratio.V = c.lit * (1 - c.covered)
			s.Transparency.Covered = stats.Known(c.covered, 0.02, 100)
			s.Transparency.Depth = stats.Known(c.lit*c.lit*(1-c.covered)/(lit*lit), math.NaN(), 16)
			s.Transparency.Unevenness = stats.Known(100*math.Sqrt(c.covered*(1-c.covered)), 2, 16)
		})
		lead := Cause("")
		if len(s.Causes) > 0 {
			lead = s.Causes[0]
		}
		if s.Verdict != c.verdict || lead != c.cause {
			t.Errorf("%+v: %s %v %s", c, s.Verdict, s.Causes, told(s))
		}
		if c.verdict == Cull && s.Weight.V > 1.2*(1-c.covered) {
			t.Errorf("%+v: weight %.2f", c, s.Weight.V)
		}
	}
}

// What a cover takes is no noise of the camera's.
func TestCoverIsNoNoise(t *testing.T) {
	s := one(t, func(s *Sub) {
		s.Transparency.Ratio.V, s.Transparency.Covered = 0.68, stats.Known(0.3, 0.06, 60)
		s.Transparency.Depth = stats.Known(0.35/(s.RandomNoise.V*s.RandomNoise.V), math.NaN(), 16)
		s.SkyADU.V *= 0.89
	})
	if s.Verdict != Doubtful || len(s.Causes) != 1 || s.Causes[0] != Obstructed {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
	s = one(t, func(s *Sub) {
		s.Transparency.Ratio.V, s.Transparency.Covered = 0.88, stats.Known(0.09, 0.02, 60)
		s.Transparency.Depth = stats.Known(0.37/(s.RandomNoise.V*s.RandomNoise.V), math.NaN(), 16)
	})
	if s.Verdict == Cull || slices.Contains(s.Causes, WrongSettings) {
		t.Errorf("a little covered, of the usual noise: %s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// A roof over one sub of a group that trails as a whole is no cloud.
func TestObstructedWhereAllTrail(t *testing.T) {
	night := makeNight(4, "R", 12, func(i int, tr *truth) { tr.stretch(0.5, 0.02) })
	s := night[7]
	s.SkyADU.V *= 0.6
	s.RandomNoise.V *= math.Sqrt(0.6)
	s.Transparency = photometry.Transparency{Ratio: stats.Known(0.5, 0.01, 60), Covered: stats.Known(0.5, 0.03, 60),
		Depth: stats.Known(0.5/(s.RandomNoise.V*s.RandomNoise.V), math.NaN(), 16), Unevenness: stats.Known(50, 1, 16)}
	Judge(night, DefaultLimits)
	if s.Verdict != Cull || !slices.Contains(s.Causes, Obstructed) || slices.Contains(s.Causes, Cloud) {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// A run begun at dusk: whatever twilight leaves of the stars, it is the cause of all
// that is culled, also of a sub whose noise is a little more than that of the next and
// whose sky explains it; and of a run that saw nothing but dusk.
func TestDusk(t *testing.T) {
	for _, first := range []float64{60, 20, 6} { // times the night's sky, in the first sub
		night := makeNight(9, "L", 40, func(i int, tr *truth) {
			tr.sky = 1 + first*math.Exp(-float64(i)/6)
			switch {
			case tr.sky > 30:
				tr.stars = 0
			}
		})
		for i, s := range night {
			s.Sky.SunAlt = stats.Known(-5-0.4*float64(i), math.NaN(), 0)
			if s.Field.Count > 0 && s.SkyADU.V > 15000 { // ends of columns that have filled up
				s.Field.Count = 5
				s.Transparency.Ratio = stats.Missing("too few stars")
			}
		}
		Judge(night, DefaultLimits)
		for i, s := range night {
			if len(s.Causes) > 0 && s.Causes[0] != Twilight || i < 3 && s.Verdict != Cull && first > 10 || i > 30 && s.Verdict != Keep {
				t.Errorf("%g times the sky, sub %d: %s %v (%s)", first, i, s.Verdict, s.Causes, told(s))
			}
		}
	}
	drowned := makeNight(9, "L", 12, func(_ int, tr *truth) { tr.sky, tr.stars = 300, 0 })
	for _, s := range drowned {
		s.Sky.SunAlt = stats.Known(4, math.NaN(), 0)
	}
	Judge(drowned, DefaultLimits)
	for _, s := range drowned {
		if s.Verdict != Cull || s.Causes[0] != Twilight || !strings.Contains(told(s), "sun_stood sun_deg=4") {
			t.Errorf("the Sun up: %s %v (%s)", s.Verdict, s.Causes, told(s))
		}
	}
}

// Noise is the sky's where it grew with it, as the root of it at most, and the
// camera's where it grew alone or by more.
func TestSkyExplainsNoise(t *testing.T) {
	for _, c := range []struct {
		sky, noise float64
		want       bool
	}{{1.16, 1.10, true}, {1.2, 1.09, true}, {1.02, 1.10, false}, {1.16, 1.3, false}, {1, 1, false}, {4, 2.5, true}, {math.NaN(), 1.2, true}} {
		e := &evidence{Sub: &Sub{RandomNoise: stats.Known(10*c.noise, 0.1, 100)}, base: Baseline{RandomNoise: 10}, sky: c.sky}
		if got := e.skyLeads(); got != c.want {
			t.Errorf("sky %g, noise %g times the baseline: the sky explains it %v", c.sky, c.noise, got)
		}
	}
}

// A sub whose light cannot be compared and that has fewer stars than the others is
// doubted; one that has them all is not, nor is any where no light is told.
func TestUnprovenLight(t *testing.T) {
	for _, c := range []struct {
		stars float64 // of the others'
		told  bool
		want  Verdict
	}{{0.6, true, Doubtful}, {0.75, true, Doubtful}, {0.9, true, Keep}, {1, true, Keep}, {0.6, false, Keep}} {
		night := makeNight(12, "Ha", 12, func(i int, tr *truth) {
			if tr.stars = 34; i == 5 {
				tr.stars *= c.stars
			}
		})
		for i, s := range night {
			if i == 5 || !c.told {
				s.Transparency.Ratio = stats.Missing("too few stars in common")
				s.Align.ShiftX = stats.Missing("not tied")
			}
			if i > 6 { // that few are tied is not the sub's own
				s.Align.ShiftX = stats.Missing("not tied")
			}
		}
		night[5].Field.Count = int(34 * c.stars)
		Judge(night, DefaultLimits)
		if s := night[5]; s.Verdict != c.want {
			t.Errorf("%g of the stars, others' light told %v: %s %v (%s), want %s", c.stars, c.told, s.Verdict, s.Causes, told(s), c.want)
		}
	}
}

// A sensor that warms, as where the cooler fails, raises the level by its dark current:
// that is no brighter sky, however large; and a bright sky over a sensor a little warmer
// than the others', or of little dark current, is none of the sensor's.
func TestWarmSensorIsNoBrightSky(t *testing.T) {
	for _, c := range []struct {
		dark, doubles, warmer, sky float64 // e-/s; °C; °C; of the others'
		want                       Cause
	}{
		{0.5, 6, 8, 1, WrongSettings},
		{0.5, 5.2, 15, 1, WrongSettings},
		{0.2, 7.5, 20, 1, WrongSettings},
		{3, 6, 4, 1, WrongSettings},
		{0.5, 6, 3, 4, BrightSky},
		{0.003, 6, 10, 3, BrightSky},
	} {
		night := makeNight(1, "R", 20, nil)
		for _, s := range night {
			s.DarkRate = stats.Known(c.dark, 0.02*c.dark, 10)
		}
		s := night[3]
		before := s.SkyADU.V
		s.SensorTemp += c.warmer
		s.SkyADU.V = c.sky*before + c.dark*s.Exposure*(math.Exp2(c.warmer/c.doubles)-1)/s.ElectronsPerADU
		s.RandomNoise.V *= math.Sqrt(s.SkyADU.V / before)
		s.NoiseADU.V *= math.Sqrt(s.SkyADU.V / before)
		Judge(night, DefaultLimits)
		if len(s.Causes) == 0 || s.Causes[0] != c.want || s.Warmed != (c.want == WrongSettings) {
			t.Errorf("%+v: sky %.2f times, %s %v %s", c, s.SkyADU.V/before, s.Verdict, s.Causes, told(s))
		}
	}
}

// A dawn that nobody ended, without bias frames and without a site: the noise tells the sky
// until it fills the range, and has none then. It is one dawn.
func TestDawnThatFillsTheRange(t *testing.T) {
	night := makeNight(11, "L", 40, func(i int, tr *truth) {
		if i >= 28 {
			tr.sky = math.Pow(1.6, float64(i-27))
		}
	})
	for i, s := range night {
		s.Calibrated = false
		s.SkyADU.V += 20000 // the offset
		s.Sky.SunAlt, s.Sky.MoonAlt = stats.Missing("no site"), stats.Missing("no site")
		if i >= 35 {
			s.SkyADU.V, s.RandomNoise.V, s.NoiseADU.V, s.Field.Count = 65535, 0, 0, 0
			s.Transparency.Ratio = stats.Missing("no stars")
		}
	}
	Judge(night, DefaultLimits)
	for i, s := range night {
		if dawn := i >= 29; dawn != (s.Verdict == Cull) || dawn && s.Causes[0] != Twilight {
			t.Errorf("sub %d: %s %v (%s)", i, s.Verdict, s.Causes, told(s))
		}
	}
}

// Where a whole night shows no stars, the Sun above the horizon is the cause, and a sky
// that fills the range is told.
func TestStarlessNights(t *testing.T) {
	for _, c := range []struct {
		sun  float64
		full bool
		want Cause
	}{{35, false, Twilight}, {35, true, Twilight}, {-40, true, NoStars}, {-40, false, NoStars}} {
		night := makeNight(1, "L", 8, func(_ int, tr *truth) { tr.stars = 0 })
		for i, s := range night {
			s.Field.Count, s.Field.Full, s.Sky.SunAlt = i%2, c.full, stats.Known(c.sun, math.NaN(), 0)
		}
		Judge(night, DefaultLimits)
		for i, s := range night {
			if s.Verdict != Cull || s.Causes[0] != c.want || fact.Has(s.Findings[0].Facts, RangeFilled) != c.full {
				t.Errorf("%+v: sub %d: %s for %v, %v", c, i, s.Verdict, s.Causes, s.Findings)
				break
			}
		}
	}
}

// A frame without values is told as such, where all others have stars.
func TestFrameWithoutValues(t *testing.T) {
	night := makeNight(1, "L", 8, nil)
	s := night[3]
	s.Field.Count, s.Field.FWHM = 0, stats.Missing(stars.NoPixels)
	s.SkyADU, s.NoiseADU, s.RandomNoise = stats.Missing(stars.NoPixels), stats.Missing(stars.NoPixels), stats.Missing(stars.NoPixels)
	s.Transparency.Ratio = stats.Missing(stars.FewInCommon)
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: NoStars}[i == 3] }, nil)
	if !fact.Has(s.Findings[0].Facts, Blank) {
		t.Error(told(s))
	}
}

// A sky that fills the range hides every star without a cloud.
func TestFullSkyIsNoCloud(t *testing.T) {
	for _, full := range []bool{true, false} {
		night := makeNight(12, "L", 24, func(i int, tr *truth) {
			if i < 4 {
				tr.sky = 40
			}
		})
		for _, s := range night[:4] {
			s.Sky.SunAlt, s.Sky.MoonAlt = stats.Known(-50, math.NaN(), 0), stats.Known(-20, math.NaN(), 0)
			s.Field.Count, s.Field.Full, s.Transparency.Ratio = 0, full, stats.Missing("no stars")
		}
		Judge(night, DefaultLimits)
		want := map[bool]Cause{true: BrightSky, false: Cloud}[full]
		for i, s := range night {
			if bad := i < 4; bad != (s.Verdict == Cull) || bad && s.Causes[0] != want {
				t.Errorf("full %v: sub %d: %s %v (%s)", full, i, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// A dusk by a clock or a longitude that is wrong is no twilight by the Sun, and the sky
// tells: a lamp that comes on at once and a sky that dims the stars do not.
func TestTwilightByAWrongClock(t *testing.T) {
	for name, c := range map[string]struct {
		sky  func(i int) float64
		dims bool
		told bool
	}{
		"dusk":  {func(i int) float64 { return math.Pow(1.6, float64(max(0, 12-i))) }, false, true},
		"lamp":  {func(i int) float64 { return map[bool]float64{true: 200, false: 1}[i < 12] }, false, false},
		"cloud": {func(i int) float64 { return math.Pow(1.6, float64(max(0, 12-i))) }, true, false},
	} {
		night := makeNight(13, "L", 40, func(i int, tr *truth) { tr.sky = c.sky(i) })
		told := false
		for i, s := range night {
			s.Sky.SunAlt, s.Sky.MoonAlt = stats.Known(-50, math.NaN(), 0), stats.Known(-20, math.NaN(), 0)
			if c.dims && i < 12 {
				s.Transparency.Ratio.V = 0.4
			}
		}
		Judge(night, DefaultLimits)
		for _, s := range night {
			for _, f := range s.Findings {
				told = told || fact.Has(f.Facts, SunSaidLow)
			}
		}
		if told != c.told || night[0].Verdict != Cull || !c.dims && night[0].Causes[0] != BrightSky {
			t.Errorf("%s: told %v, want %v: %s %v", name, told, c.told, night[0].Verdict, night[0].Causes)
		}
	}
}
