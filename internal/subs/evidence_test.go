package subs

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
)

// one judges a night in which only sub 10 is changed, and gives that sub.
func one(t *testing.T, change func(*Sub)) *Sub {
	t.Helper()
	night := makeNight(8, "R", 24, nil)
	change(night[10])
	Judge(night, DefaultLimits)
	for i, s := range night {
		if i != 10 && s.Verdict != Keep {
			t.Errorf("bystander %s: %s %v %s", s.File, s.Verdict, s.Causes, told(s))
		}
	}
	return night[10]
}

func TestSingleEvidence(t *testing.T) {
	nan := math.NaN()
	unmatched := stats.Missing("its stars do not match")
	for _, c := range []struct {
		name    string
		change  func(*Sub)
		verdict Verdict
		cause   Cause
		words   string
	}{
		{"thin even veil", func(s *Sub) { s.Transparency.Ratio.V = 0.72 }, Keep, "", ""},
		{"even veil that costs more than it gives", func(s *Sub) { s.Transparency.Ratio.V = 0.6 }, Cull, Cloud, "transparency transparency=0.6, unsteady, burden burden=1.3"},
		{"clear gaps in a thick cloud", func(s *Sub) { s.Transparency.Ratio.V, s.Field.Count, s.SkyADU.V = 0.63, 80, 1600 }, Cull, Cloud, "transparency transparency=0.63, stars_hidden of_expected=0.5"},
		{"uneven without a loss", func(s *Sub) { s.Transparency.Unevenness = stats.Known(30, 2, 16) }, Keep, "", ""},
		{"uneven without a loss, and by chance with fewer stars", func(s *Sub) { s.Transparency.Unevenness, s.Field.Count = stats.Known(30, 2, 16), 205 }, Keep, "", ""},
		{"every star twice, its light with it", func(s *Sub) {
			s.Field.Double = stars.Double{X: 9, Y: -4, Share: stats.Known(0.45, 0.005, 40)}
			s.Transparency.Ratio.V, s.Transparency.Unevenness = 0.9, stats.Known(20, 2, 16)
		}, Cull, Trailed, "stars_doubled"},
		{"a third hidden", func(s *Sub) { s.Transparency.Ratio.V, s.Transparency.Unevenness = 0.85, stats.Known(30, 2, 16) }, Cull, Cloud, "uneven uneven_pct=26, limit limit=15"},
		{"uneven and brighter than clear", func(s *Sub) { s.Transparency.Ratio.V, s.Transparency.Unevenness = 1.5, stats.Known(40, 3, 16) }, Cull, WrongSettings, "uneven uneven_pct=34, brighter_parts, limit limit=15"},
		{"uneven, but unsure", func(s *Sub) { s.Transparency.Unevenness = stats.Known(9, 3, 5) }, Keep, "", ""},
		{"dim, but unsure", func(s *Sub) { s.Transparency.Ratio = stats.Known(0.75, 0.06, 4) }, Keep, "", ""},
		{"dimmer than any limit, but within two standard errors of enough", func(s *Sub) { s.Transparency.Ratio = stats.Known(0.58, 0.06, 4) }, Keep, "", ""},
		{"dim, but too unsure for a word on the airmass", func(s *Sub) { s.Transparency.Ratio = stats.Known(0.55, 0.15, 4) }, Keep, "", ""},
		{"few stars for no reason", func(s *Sub) { s.Field.Count = 90 }, Doubtful, FewStars, "star_count stars=90 of_expected=0.39"},
		{"hardly a star, for no reason", func(s *Sub) { s.Field.Count = 20 }, Cull, FewStars, "star_count stars=20 of_expected=0.0"},
		{"few stars, sky up, nothing to compare", func(s *Sub) {
			s.Field.Count, s.SkyADU.V = 90, 1400
			s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched
		}, Cull, Cloud, "too_few_to_tie"},
		{"half the stars under a bright cloud, sized by two of them", func(s *Sub) {
			s.Field.Count, s.SkyADU.V, s.NoiseADU.V, s.Field.FWHM = 100, 2000, 45, stats.Known(5.6, nan, 2)
			s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched
		}, Cull, Cloud, "star_count stars=100 of_expected=0.4"},
		{"another field", func(s *Sub) {
			s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched, unmatched, unmatched
		}, Cull, FewStars, "pointing_lost"},
		{"a lens cap", func(s *Sub) {
			s.Field.Count, s.SkyADU.V = 2, 1
			s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched
		}, Cull, NoStars, "cap_or_cover"},
		{"stars drawn into lines", func(s *Sub) {
			s.Field.Count, s.Field.Streaks = 25, make([]stars.Streak, 40)
			s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched
		}, Cull, Trailed, "streaks=40"},
		{"one satellite", func(s *Sub) { s.Field.Streaks = make([]stars.Streak, 1) }, Keep, "", ""},
		{"size of two stars", func(s *Sub) { s.Field.FWHM = stats.Known(9, nan, 2) }, Keep, "", ""},
		{"elongation of four stars", func(s *Sub) {
			s.Field.Ellipticity, s.Field.Coherence = stats.Known(0.35, 0.1, 4), stats.Known(0.9, nan, 4)
		}, Keep, "", ""},
		{"trailed and soft", func(s *Sub) {
			s.Field.Ellipticity, s.Field.Coherence = stats.Known(0.6, 0.01, 80), stats.Known(0.95, nan, 80)
			s.Field.FWHM.V = 3.4 / math.Sqrt(1-0.6) // the narrow axis is as ever
		}, Cull, Trailed, "elongation ellipticity=0.6"},
		{"soft across the trail, too", func(s *Sub) {
			s.Field.Ellipticity, s.Field.Coherence, s.Field.FWHM.V = stats.Known(0.25, 0.01, 80), stats.Known(1, nan, 80), 8
		}, Cull, Soft, "across_px=7.04"},
		{"a few stars lost, not surely more than by chance", func(s *Sub) {
			s.Field.Count, s.Transparency.Ratio.V, s.Transparency.Covered, s.Transparency.Unevenness = 195, 0.9, stats.Known(0.1, 0.05, 30), stats.Known(30, 1, 14)
		}, Keep, "", ""},
		{"size of what are no stars", func(s *Sub) { s.Field.FWHM = stats.Known(64, 30, 5) }, Keep, "", ""},
		{"shape of what are hardly stars", func(s *Sub) {
			s.Field.FWHM, s.Field.Ellipticity, s.Field.Coherence = stats.Known(20, 6, 8), stats.Known(0.87, 0.06, 8), stats.Known(0.9, nan, 8)
		}, Cull, Soft, "width"},
		{"drawn out, and wider across than seeing makes stars", func(s *Sub) {
			s.Field.FWHM, s.Field.Ellipticity, s.Field.Coherence = stats.Known(57, 2, 8), stats.Known(0.5, 0.05, 8), stats.Known(0.95, nan, 8)
		}, Doubtful, Soft, "perhaps_no_stars"},
		{"knots of a nebula", func(s *Sub) { s.Field.FWHM = stats.Known(57, 5, 8) }, Doubtful, Soft, "perhaps_no_stars"},
		{"large where no others' stars are", func(s *Sub) {
			s.Field.FWHM = stats.Known(8, 0.2, 10)
			s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched, unmatched, unmatched
			s.Field.Count = 200
		}, Cull, FewStars, "pointing_lost"},
		{"large where the light is not the others' stars'", func(s *Sub) {
			s.Field.FWHM, s.Transparency.Ratio, s.Transparency.Unevenness = stats.Known(8, 0.2, 10), unmatched, unmatched
		}, Doubtful, Soft, "perhaps_no_stars"},
		{"none of the others' stars, and hardly one fitted", func(s *Sub) {
			s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = unmatched, unmatched, unmatched, unmatched
			s.Field.FWHM = stats.Known(3.2, 1384, 1)
		}, Doubtful, FewStars, "too_few_to_tie"},
		{"what could not be fitted", func(s *Sub) {
			s.Field.FWHM, s.Field.HFD = unmatched, stats.Known(16, 0.5, 20)
		}, Doubtful, Soft, "perhaps_no_stars"},
		{"images of many widths, with light enough", func(s *Sub) {
			s.Field.FWHM, s.Field.HFD, s.Transparency.Ratio.V = stats.Missing(stars.WidthsDisagree), unmatched, 1.28
		}, Doubtful, FewStars, "knots_only images=247, others_have"},
		{"fewer of them, with less light", func(s *Sub) {
			s.Field.FWHM, s.Field.HFD, s.Field.Count, s.Transparency.Ratio.V = stats.Missing(stars.WidthsDisagree), unmatched, 200, 0.95
		}, Doubtful, FewStars, "knots_only images=200, others_have"},
		{"undersampled", func(s *Sub) {
			s.Field.Ellipticity, s.Field.Coherence, s.Field.FWHM = stats.Known(0.56, 0.01, 80), stats.Known(0.95, nan, 80), stats.Known(1.4, 0.01, 80)
		}, Keep, "", ""},
		{"warm sensor", func(s *Sub) { s.SensorTemp = -7 }, Doubtful, WrongSettings, "sensor_off sensor_c=-7 off_c=3 set_c=-10, limit limit=2"},
		{"no offset known, a sky that fills the range", func(s *Sub) { s.Calibrated, s.RandomNoise.V, s.SkyADU.V = false, 0, 20*s.SkyADU.V }, Cull, BrightSky, "sky_by_noise times=20"},
		{"no offset known, noise up", func(s *Sub) { s.Calibrated, s.RandomNoise.V = false, 65 }, Cull, BrightSky, "sky_by_noise times=4."},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := one(t, c.change)
			lead := Cause("")
			if len(s.Causes) > 0 {
				lead = s.Causes[0]
			}
			if s.Verdict != c.verdict || lead != c.cause || !strings.Contains(told(s), c.words) {
				t.Errorf("%s %v %q, want %s %s %q", s.Verdict, s.Causes, told(s), c.verdict, c.cause, c.words)
			}
			if len(s.Causes) > 1 && s.Causes[0] == Cloud && s.Causes[1] == BrightSky {
				t.Errorf("the cloud is what is bright, yet causes are %v", s.Causes)
			}
			if c.cause == Trailed && c.name != "stars drawn into lines" && len(s.Causes) != 1 {
				t.Errorf("the trail explains size and light, yet causes are %v", s.Causes)
			}
		})
	}
}

// A setting target dims by the air alone: that is no cloud. The limits are on
// what exceeds 0.2 mag an airmass.
func TestExtinctionIsNoCloud(t *testing.T) {
	night := makeNight(9, "R", 30, nil)
	for i, s := range night {
		x := 1 + 0.08*float64(i) // to 3.3
		s.Sky.Airmass = stats.Known(x, math.NaN(), 0)
		s.Transparency.Ratio.V = math.Pow(10, -0.4*0.22*(x-1))
	}
	night[20].Transparency.Ratio.V *= 0.5
	night[20].SkyADU.V *= 1.3
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: Cloud}[i == 20] }, nil)
	if w := night[29].Weight.V; w > 0.5 {
		t.Errorf("at airmass %.1f and transparency %.2f the weight is %.2f", night[29].Sky.Airmass.V, night[29].Transparency.Ratio.V, w)
	}
	// From where the air takes more than the cull limit, there is a doubt.
	for i, s := range night {
		s.Transparency.Ratio.V = math.Pow(10, -0.4*0.2*0.16*float64(i))
		s.Sky.Airmass.V = 1 + 0.16*float64(i) // to 5.6
	}
	night[20].SkyADU.V /= 1.3
	Judge(night, DefaultLimits)
	if s := night[29]; s.Verdict != Doubtful || s.Causes[0] != Haze || !strings.Contains(told(s), "by_airmass airmass=5.6") {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// Air that takes less than is allowed for, as of red light, or at an airmass that is
// not so, makes no burden of the subs highest in the sky.
func TestClearAirIsNoBurden(t *testing.T) {
	for _, k := range []float64{0, 0.05, 0.1} {
		night := makeNight(9, "Ha", 24, nil)
		for i, s := range night {
			x := 1.2 + 3*math.Pow(float64(23-i)/23, 0.7) // rises, from 4.2
			s.Sky.Airmass = stats.Known(x, math.NaN(), 0)
			s.Transparency.Ratio.V *= math.Pow(10, -0.4*k*(x-1.2))
		}
		Judge(night, DefaultLimits)
		wantVerdicts(t, night, func(int) Cause { return "" }, nil)
	}
}

// Half a night of cloud does not move the baseline, and neither does the last
// quarter of clear subs.
func TestBaselineIsOfTheClearSubs(t *testing.T) {
	for _, clouded := range []int{0, 20, 30} {
		night := makeNight(10, "R", 40, func(i int, tr *truth) {
			if i < clouded {
				tr.transparency, tr.sky, tr.fwhm = 0.3, 2, 4.2
			}
		})
		b := newBaseline(night, night, night)
		if !(math.Abs(b.Sky/1000-1) <= 0.04) || !(math.Abs(b.FWHM/goodSub.fwhm-1) <= 0.06) || !(math.Abs(b.Stars/goodSub.stars-1) <= 0.06) {
			t.Errorf("%d of 40 clouded: %+v", clouded, b)
		}
	}
	if b := newBaseline(nil, makeNight(10, "R", minGroup-1, nil), nil); b.Clear != 0 || !math.IsNaN(b.FWHM) {
		t.Errorf("too small a group has a baseline: %+v", b)
	}
}

// Of a filter with too few subs for a baseline of its own the night's other filters tell
// what is soft; not where that filter is softer as a whole.
func TestFewOfAFilterAreHeldAgainstTheNight(t *testing.T) {
	for _, c := range []struct{ first, others float64 }{{1, 1}, {1.9, 1}, {1.35, 1.35}} {
		night := slices.Concat(makeNight(14, "L", 12, nil), makeNight(15, "R", minGroup-2, func(i int, tr *truth) {
			tr.fwhm *= c.others
			if i == 0 {
				tr.fwhm *= c.first / c.others
			}
		}))
		for _, s := range night[12:] {
			s.Stack = 1
		}
		Judge(night, DefaultLimits)
		for i, s := range night {
			want := Keep
			if i == 12 && c.first > 1.5*c.others {
				want = Cull
			}
			if s.Verdict != want {
				t.Errorf("%v: sub %d: %s %v %q", c, i, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// What a steady loss of light is called depends on what comes with it.
func TestSteadyLoss(t *testing.T) {
	for _, c := range []struct {
		transparency, sky, uneven float64
		cause                     Cause
		words                     string
	}{
		{0.57, 1, 1, Haze, "transparency transparency=0.5"},
		{0.57, 1.3, 1, Cloud, "sky_lit times=1."},
		{0.57, 1, 5, Cloud, "uneven_too "},
		{0.4, 1, 1, Cloud, "transparency transparency=0."},
	} {
		night := makeNight(12, "R", 40, func(i int, tr *truth) {
			if i >= 20 {
				tr.transparency, tr.sky, tr.uneven = c.transparency, c.sky, c.uneven
			}
		})
		Judge(night, DefaultLimits)
		if s := night[30]; s.Verdict == Keep || len(s.Causes) != 1 || s.Causes[0] != c.cause || !strings.Contains(told(s), c.words) {
			t.Errorf("%+v: %s %v %q", c, s.Verdict, s.Causes, told(s))
		}
	}
}

// A night through haze so thick that it would be cloud on any other is weighed beside a
// clear night, not culled: by itself, too, it is kept. A cloud of an hour is not.
func TestThickHazeAllNight(t *testing.T) {
	for _, c := range []struct {
		name string
		gap  time.Duration
		want Verdict
	}{{"a night of its own", 24 * time.Hour, Doubtful}, {"two hours of a night", 0, Cull}} {
		night := makeNight(12, "R", 40, func(i int, tr *truth) {
			if i >= 20 {
				tr.transparency = 0.27
			}
		})
		for _, s := range night[20:] {
			s.Start = s.Start.Add(c.gap)
		}
		Judge(night, DefaultLimits)
		if s := night[30]; s.Verdict != c.want {
			t.Errorf("%s: %s %v %q", c.name, s.Verdict, s.Causes, told(s))
		}
	}
}

// Thick cloud lit from below is one cause, not two.
func TestCloudExplainsItsSky(t *testing.T) {
	night := makeNight(13, "R", 30, func(i int, tr *truth) {
		if i >= 20 {
			tr.transparency, tr.sky = 0.3, 2.5
		}
	})
	Judge(night, DefaultLimits)
	if s := night[25]; len(s.Causes) != 1 || s.Causes[0] != Cloud {
		t.Errorf("%v %s", s.Causes, told(s))
	}
}

// Over a dark site thick cloud hides all stars and lights nothing.
func TestStarlessBetweenClouds(t *testing.T) {
	night := makeNight(14, "R", 30, func(i int, tr *truth) {
		if i >= 10 && i < 17 {
			tr.transparency = 0.3
		}
		if i == 13 {
			tr.stars, tr.sky = 0, 0.9
		}
	})
	Judge(night, DefaultLimits)
	if s := night[13]; s.Verdict != Cull || len(s.Causes) != 2 || s.Causes[0] != Cloud || s.Causes[1] != NoStars {
		t.Errorf("%v %s", s.Causes, told(s))
	}
}

// A few stars under half of the sky are behind a cover, not a cloud, among clouds too.
func TestFewStarsBehindACover(t *testing.T) {
	night := makeNight(14, "R", 30, func(i int, tr *truth) {
		if i >= 10 && i < 17 {
			tr.transparency = 0.3
		}
		if i == 13 {
			tr.stars, tr.sky = 60, 0.38
		}
	})
	night[13].Transparency = photometry.Transparency{Ratio: stats.Missing("too few stars"), Unevenness: stats.Missing("too few stars")}
	Judge(night, DefaultLimits)
	if s := night[13]; s.Verdict != Cull || s.Causes[0] != Obstructed {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// A lamp at the end of the night goes up and down; dawn only goes up.
func TestLampIsNoDawn(t *testing.T) {
	night := makeNight(15, "R", 30, func(i int, tr *truth) { tr.sky = []float64{1, 6, 4}[max(0, i-27)] })
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: BrightSky}[i >= 28] }, nil)

	night = makeNight(15, "R", 30, func(i int, tr *truth) { // switched on, and left on
		if i >= 24 {
			tr.sky = 8
		}
	})
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(i int) Cause { return map[bool]Cause{true: BrightSky}[i >= 24] }, nil)
}

// What no group makes good: sizes in small groups.
func TestAbsoluteSize(t *testing.T) {
	for _, c := range []struct {
		name        string
		fwhm, scale float64
		verdict     Verdict
	}{
		{"sharp", 3.4, 0.8, Keep},
		{"short focal length, large pixels", 3.4, 3.9, Keep},
		{"long focal length, small pixels", 6, 0.4, Keep},
		{"soft", 12, 0.8, Cull},
		{"soft, scale unknown", 12, math.NaN(), Doubtful},
	} {
		night := makeNight(16, "R", 3, nil)
		night[1].Field.FWHM.V, night[1].PixelScale = c.fwhm, c.scale
		Judge(night, DefaultLimits)
		if s := night[1]; s.Verdict != c.verdict || s.Verdict != Keep && (len(s.Causes) != 1 || s.Causes[0] != Soft) {
			t.Errorf("%s: %s %v %s", c.name, s.Verdict, s.Causes, told(s))
		}
	}
	night := makeNight(16, "R", 3, nil)
	night[1].Field.Defocused, night[1].Field.FWHM, night[1].Field.HFD = true, stats.Missing("rings"), stats.Known(9, 0.1, 40)
	night[1].PixelScale = 0.4
	Judge(night, DefaultLimits)
	if s := night[1]; s.Verdict != Cull || s.Causes[0] != Soft || !fact.Has(s.Findings[0].Facts, OutOfFocus) {
		t.Errorf("rings: %s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// Where most subs show images of many widths, as of a nebula or a crowd, that speaks against none of them.
func TestNoWidthInCommonOfMost(t *testing.T) {
	for _, c := range []struct {
		without, doubted int
	}{{1, 1}, {4, 4}, {12, 0}, {20, 0}} {
		night := makeNight(17, "R", 20, nil)
		for _, s := range night[:c.without] {
			s.Field.FWHM, s.Field.HFD = stats.Missing(stars.WidthsDisagree), stats.Missing("no diameter")
		}
		Judge(night, DefaultLimits)
		doubted := 0
		for _, s := range night {
			if s.Verdict != Keep {
				doubted++
			}
		}
		if doubted != c.doubted {
			t.Errorf("%d of 20 without a width: %d doubted, want %d: %s", c.without, doubted, c.doubted, told(night[0]))
		}
	}
}

// When the matching fails for all, or for a frame full of false stars, no
// pointing is lost.
func TestFailedMatchingIsNoLostField(t *testing.T) {
	unmatch := func(s *Sub) {
		m := stats.Missing("its stars do not match")
		s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = m, m, m, m
	}
	night := makeNight(17, "R", 20, nil)
	unmatch(night[5])
	night[5].Field.Count *= 4
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
	for _, s := range night[:12] {
		unmatch(s)
		s.Field.Count = 240
	}
	Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
}

// Where the others show a handful of stars, a dozen that fit none of them prove no other
// field: one or two more or fewer, and they would.
func TestHandfulUntiedIsNoLostField(t *testing.T) {
	for stars, want := range map[int]Verdict{9: Doubtful, 40: Cull} {
		night := makeNight(17, "R", 20, nil)
		for _, s := range night {
			s.Field.Count = stars
		}
		m := stats.Missing("its stars do not match")
		s := night[5]
		s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = m, m, m, m
		s.Field.Count = 12 * stars / 9
		Judge(night, DefaultLimits)
		if s.Verdict != want || !fact.Has(s.Findings[0].Facts, PointingLost) {
			t.Errorf("others of %d stars: %s, want %v for pointing_lost", stars, told(s), want)
		}
	}
}

// One lucky sub is no clear sky: the best quarter is.
func TestBaselineOfOneClearSub(t *testing.T) {
	night := makeNight(18, "R", 40, func(i int, tr *truth) {
		if tr.transparency = 0.8; i == 7 {
			tr.transparency, tr.fwhm = 1, 9
		}
	})
	if b := newBaseline(night, night, night); b.Clear < 10 || !(math.Abs(b.FWHM/goodSub.fwhm-1) <= 0.1) {
		t.Errorf("%+v", b)
	}
}

// Two subs of twenty with another gain are a plan, two of fifty a slip.
func TestHowManyAreOdd(t *testing.T) {
	for n, want := range map[int]Verdict{20: Keep, 50: Cull} {
		night := makeNight(19, "R", n, nil)
		night[8].GainSetting, night[9].GainSetting = 0, 0
		night[8].Stack, night[9].Stack = 1, 1
		Judge(night, DefaultLimits)
		if s := night[8]; s.Verdict != want {
			t.Errorf("2 of %d: %s %s", n, s.Verdict, told(s))
		}
	}
}

// Star counts that scatter among clear subs, as where knots of a nebula come and go with
// the seeing, make no sub lack stars; where they do not scatter as much it does.
func TestCountsThatScatter(t *testing.T) {
	for _, c := range []struct {
		usual, scatter float64 // of the counts, and of their logarithm
		count          int     // of one sub
		verdict        Verdict
	}{
		{20, 0.4, 9, Keep}, {60, 0.4, 24, Keep}, {200, 0.4, 80, Keep},
		{60, 0.1, 24, Doubtful}, {200, 0.05, 80, Doubtful}, {200, 0.1, 20, Cull}, {60, 0.3, 4, Cull},
	} {
		night := makeNight(8, "R", 24, nil)
		for i, s := range night { // a regular sample of a log-normal distribution, shuffled
			q := (float64(7*i%24) + 0.5) / 24
			s.Field.Count = int(c.usual * math.Exp(c.scatter*math.Sqrt2*math.Erfinv(2*q-1)))
		}
		night[10].Field.Count = c.count
		Judge(night, DefaultLimits)
		if s := night[10]; s.Verdict != c.verdict {
			t.Errorf("%d stars where %.0f and e^±%.2f are usual: %s %v", c.count, c.usual, c.scatter, s.Verdict, s.Causes)
		}
		for i, s := range night {
			if i != 10 && s.Verdict == Cull {
				t.Errorf("counts of %.0f that scatter by %.2f: sub of %d stars %s %v", c.usual, c.scatter, s.Field.Count, s.Verdict, s.Causes)
			}
		}
	}
}

// What dew takes from the stars stands over the whole field as sky: it is no cloud lit
// from below, be the sky known by its level or, uncalibrated, by its noise alone.
func TestOwnStarlightIsNoLitCloud(t *testing.T) {
	const ownLight = 0.4 // of a clear sub's sky, all of the stars' light
	for _, calibrated := range []bool{true, false} {
		night := makeNight(11, "R", 30, func(i int, tr *truth) {
			tr.transparency = math.Exp(-0.08 * math.Max(0, float64(i-12)))
			tr.sky = 1 + ownLight*(1-tr.transparency)
			tr.halo = 0.3 * (1/tr.transparency - 1)
		})
		for i, s := range night {
			light := ownLight * 1000 * float64(s.Field.Width*s.Field.Height)
			s.Field.Stars = []stars.Star{{Flux: light * math.Exp(-0.08*math.Max(0, float64(i-12)))}}
			s.Calibrated = calibrated
		}
		Judge(night, DefaultLimits)
		for _, s := range night[24:] {
			if s.Verdict != Cull || s.Causes[0] != Dewed {
				t.Errorf("calibrated %v: %s %s %v %s", calibrated, s.File, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// Where the others have a handful of stars, a sub without any may be so by chance; where they
// have more, it is not.
func TestNoStarsByChance(t *testing.T) {
	for _, c := range []struct {
		usual   float64
		verdict Verdict
	}{{3.5, Doubtful}, {9.5, Cull}, {60, Cull}} {
		night := makeNight(4, "R", 16, func(i int, tr *truth) {
			if tr.stars = c.usual; i == 5 || i == 11 {
				tr.stars = 0
			}
		})
		Judge(night, DefaultLimits)
		for _, i := range []int{5, 11} {
			if s := night[i]; s.Verdict != c.verdict || s.Causes[0] != NoStars {
				t.Errorf("%v stars usual: %s %s %v %s", c.usual, s.File, s.Verdict, s.Causes, told(s))
			}
		}
	}
}

// A night under a cap or an overcast sky shows a stray detection here and there: none of its
// subs has stars. One of two real stars, whose shape most subs tell, has.
func TestStarlessNight(t *testing.T) {
	missing := stats.Missing("no stars")
	for _, c := range []struct {
		shaped  int // one sub of so many has a width; 0: none
		verdict Verdict
	}{{0, Cull}, {11, Cull}, {2, Keep}, {1, Keep}} {
		night := makeNight(8, "R", 22, nil)
		for i, s := range night {
			s.Field.Count = []int{1, 2, 3}[i%3]
			s.Align.ShiftX, s.Align.ShiftY, s.Transparency.Ratio, s.Transparency.Unevenness = missing, missing, missing, missing
			if c.shaped == 0 || i%c.shaped != 0 {
				s.Field.FWHM, s.Field.HFD, s.Field.Ellipticity, s.Field.Coherence = missing, missing, missing, missing
				s.Field.Count += i % 4 // more of what has no shape is no star either
			} else {
				s.Field.FWHM.N = 1
			}
		}
		Judge(night, DefaultLimits)
		for _, s := range night {
			if s.Verdict != c.verdict || c.verdict == Cull && s.Causes[0] != NoStars {
				t.Errorf("a width in one of %d subs, %d detections: %s %v %s", c.shaped, s.Field.Count, s.Verdict, s.Causes, told(s))
				break
			}
		}
	}
}

// A sub of a handful of stars, of which hardly one could be fitted, is as soft as the light at
// the places of the others' stars tells; what its own stars tell, where they are enough, stays.
func TestSpreadLight(t *testing.T) {
	for _, c := range []struct {
		name    string
		spread  stats.Value
		own     stats.Value
		verdict Verdict
	}{
		{"not sought", stats.Value{}, stats.Known(7.5, 0.2, 2), Keep},
		{"as ever", stats.Known(1.05, 0.04, 5), stats.Known(7.5, 0.2, 2), Keep},
		{"wide, but unsure", stats.Known(1.6, 0.2, 5), stats.Known(7.5, 0.2, 2), Keep},
		{"somewhat wider", stats.Known(1.4, 0.05, 5), stats.Missing(stars.NoneFitted), Doubtful},
		{"twice as wide", stats.Known(2, 0.1, 5), stats.Missing(stars.NoneFitted), Cull},
		{"twice as wide, one fitted", stats.Known(2, 0.1, 5), stats.Known(3.1, 0.1, 1), Cull},
		{"the knots of a nebula fitted", stats.Known(2, 0.1, 5), stats.Known(40, 15, 4), Cull},
		{"knots fitted beside sharp stars", stats.Known(1.02, 0.05, 5), stats.Known(9, 0.3, 6), Doubtful},
		{"as wide as those fitted", stats.Known(2, 0.1, 5), stats.Known(7, 0.3, 6), Cull},
		{"enough fitted", stats.Known(2, 0.1, 5), stats.Known(2.8, 0.1, 4), Keep},
	} {
		night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
		night[7].Spread, night[7].Field.FWHM = c.spread, c.own
		Judge(night, DefaultLimits)
		if s := night[7]; s.Verdict != c.verdict || c.verdict != Keep && s.Causes[0] != Soft {
			t.Errorf("%s: %s %v %s, want %s", c.name, s.Verdict, s.Causes, told(s), c.verdict)
		}
	}
}

// A sub of a handful of stars, of which hardly one could be fitted, trails as far as the light
// at the places of the others' stars tells; what its own stars tell, where they are enough, stays.
func TestDrawnLight(t *testing.T) {
	for _, c := range []struct {
		name    string
		drawn   stars.Drawn
		own     stats.Value
		verdict Verdict
	}{
		{"not sought", stars.Drawn{}, stats.Known(3.1, 0.2, 2), Keep},
		{"round", stars.Drawn{X: 0.1, Y: -0.05, Err: 0.05, N: 4}, stats.Known(3.1, 0.2, 2), Keep},
		{"drawn out, but unsure", stars.Drawn{X: 0.4, Y: 0.3, Err: 0.16, N: 4}, stats.Known(3.1, 0.2, 2), Keep},
		{"drawn out, by what is chance one time in some hundred", stars.Drawn{X: 0.4, Y: -0.3, Err: 0.15, N: 4}, stats.Known(3.1, 0.2, 2), Doubtful},
		{"drawn out somewhat", stars.Drawn{X: 0.3, Y: -0.1, Err: 0.06, N: 4}, stats.Known(3.1, 0.2, 2), Doubtful},
		{"drawn out", stars.Drawn{X: 0.4, Y: -0.3, Err: 0.08, N: 4}, stats.Known(3.1, 0.2, 2), Cull},
		{"drawn out, none fitted", stars.Drawn{X: 0.4, Y: -0.3, Err: 0.08, N: 4}, stats.Missing(stars.NoneFitted), Cull},
		{"enough fitted", stars.Drawn{X: 0.4, Y: -0.3, Err: 0.08, N: 4}, stats.Known(3.1, 0.1, 4), Keep},
	} {
		night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
		s := night[7]
		s.Drawn, s.Field.FWHM = c.drawn, c.own
		if c.verdict != Keep {
			s.Spread = stats.Known(1.3, 0.02, 4) // across the trail it is as narrow as ever
		}
		s.Field.Coherence = stats.Missing(stars.FewFitted)
		Judge(night, DefaultLimits)
		if s.Verdict != c.verdict || c.verdict != Keep && s.Causes[0] != Trailed {
			t.Errorf("%s: %s %v %s, want %s", c.name, s.Verdict, s.Causes, told(s), c.verdict)
		}
		if c.verdict == Cull && !strings.Contains(told(s), "angle_deg=-18") {
			t.Errorf("%s: %s, want an axis of -18 degrees", c.name, told(s)) // half of atan2(-0.3, 0.4)
		}
	}
}

// Where the light at the places of few stars is drawn out in all subs alike, it may be that of a
// galaxy: a doubt, and no cull.
func TestAllDrawnAlikeByLight(t *testing.T) {
	night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
	for _, s := range night {
		s.Drawn, s.Spread = stars.Drawn{X: 0.45, Y: -0.15, Err: 0.01, N: 4}, stats.Known(1, 0.02, 4)
		s.Field.FWHM, s.Field.Coherence = stats.Known(10, 3, 2), stats.Missing(stars.FewFitted)
	}
	Judge(night, DefaultLimits)
	for _, s := range night {
		if s.Verdict != Doubtful || s.Causes[0] != Trailed {
			t.Errorf("%s: %s %v %s", s.File, s.Verdict, s.Causes, told(s))
		}
	}
}

// Where the sky shows a nebula's folds in all subs, and no stars, no sub is softer than air
// makes one; far out of focus it is.
func TestNebulaForBaseline(t *testing.T) {
	night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
	for i, s := range night {
		s.Field.FWHM = stats.Known(50+2*float64(i), 4, 4)
		s.Field.Ellipticity, s.Field.Coherence = stats.Known(0.2, 0.1, 4), stats.Missing(stars.FewFitted)
	}
	night[7].Spread = stats.Known(2, 0.1, 5)
	Judge(night, DefaultLimits)
	for i, s := range night {
		if soft := slices.Contains(s.Causes, Soft); soft != (i == 7) {
			t.Errorf("%d: %s %v %s", i, s.Verdict, s.Causes, told(s))
		}
	}
}

// Hot pixels beside two faint stars, whose width is hardly known, are no baseline for subs that
// tell theirs.
func TestLooseWidthsForBaseline(t *testing.T) {
	night := makeNight(9, "R", 9, func(_ int, tr *truth) { tr.stars = 6 })
	for i, s := range night {
		s.Field.FWHM = stats.Known(4.4, 0.4, 5)
		if i%3 == 0 {
			s.Field.FWHM = stats.Known(1.3, 0.6, 2)
		}
	}
	Judge(night, DefaultLimits)
	for i, s := range night {
		if s.Verdict != Keep {
			t.Errorf("%d, %v px: %s %v %s", i, s.Field.FWHM, s.Verdict, s.Causes, told(s))
		}
	}
}

// Few rings tell no size; the light at the places of the others' stars does.
func TestFewRings(t *testing.T) {
	night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
	s := night[7]
	s.Field.Defocused, s.Field.FWHM, s.Field.HFD = true, stats.Missing(stars.ImagesRings), stats.Known(16, 4, 2)
	s.Spread = stats.Known(4, 0.3, 5)
	Judge(night, DefaultLimits)
	if s.Verdict != Cull || s.Causes[0] != Soft {
		t.Errorf("%s %v %s", s.Verdict, s.Causes, told(s))
	}
}

// Images that tie to none of the others', where light shines at the places of their stars, are
// the arms of a galaxy: however large and drawn out, they say nothing of the stars, of which
// that light tells. Tied ones do.
func TestStrangersTellNoShape(t *testing.T) {
	for _, c := range []struct {
		name   string
		tied   bool
		drawn  stars.Drawn
		spread float64
		cause  Cause
	}{
		{"sharp and round", false, stars.Drawn{X: 0.02, Y: -0.03, Err: 0.04, N: 9}, 1.02, ""},
		{"drawn out", false, stars.Drawn{X: 0.4, Y: -0.3, Err: 0.05, N: 9}, 1.3, Trailed},
		{"spread", false, stars.Drawn{X: 0.02, Y: -0.03, Err: 0.04, N: 9}, 2, Soft},
		{"tied", true, stars.Drawn{X: 0.02, Y: -0.03, Err: 0.04, N: 9}, 2, Soft},
	} {
		night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 20 })
		s := night[7]
		f := s.Field
		f.FWHM, f.Ellipticity, f.Coherence = stats.Known(20, 1, 9), stats.Known(0.63, 0.03, 9), stats.Known(0.99, 0.02, 9)
		s.Drawn, s.Spread = c.drawn, stats.Known(c.spread, 0.04, 9)
		if !c.tied {
			s.Align.ShiftX, s.Align.ShiftY = stats.Missing(stars.NotMatched), stats.Missing(stars.NotMatched)
		}
		Judge(night, DefaultLimits)
		if c.cause == "" && s.Verdict != Keep || c.cause != "" && (s.Verdict == Keep || s.Causes[0] != c.cause) {
			t.Errorf("%s: %s %v %s, want %q", c.name, s.Verdict, s.Causes, told(s), c.cause)
		}
	}
}

// Four stars that agree may do so by chance where many subs' stars are drawn out; that the
// light at their places is, all together, is none.
func TestFourDrawnAlike(t *testing.T) {
	for _, c := range []struct {
		drawn   stars.Drawn
		verdict Verdict
	}{
		{stars.Drawn{}, Keep},
		{stars.Drawn{X: 0.1, Err: 0.06, N: 4}, Keep},
		{stars.Drawn{X: 0.45, Err: 0.08, N: 4}, Cull},
	} {
		night := makeNight(9, "R", 16, func(_ int, tr *truth) { tr.stars = 6 })
		for _, s := range night[:10] {
			f := s.Field
			f.FWHM.N, f.Ellipticity, f.Angle, f.Coherence = 4, stats.Known(0.5, 0.05, 4), stats.Known(0, 5, 4), stats.Known(0.95, 0.05, 4)
			s.Drawn = c.drawn
		}
		Judge(night, DefaultLimits)
		if s := night[2]; s.Verdict != c.verdict {
			t.Errorf("light drawn out by %.2f ± %.2f: %s %v %s, want %s", c.drawn.X, c.drawn.Err, s.Verdict, s.Causes, told(s), c.verdict)
		}
	}
}

// In a group of a handful of stars, one sub shows fewer and cannot be compared: a doubt where
// the light of most others is known, none where hardly any's is.
func TestUnprovenHandful(t *testing.T) {
	for _, c := range []struct {
		told int // of the eleven others
		want Verdict
	}{{11, Doubtful}, {3, Keep}} {
		night := makeNight(12, "Ha", 12, nil)
		for i, s := range night {
			if s.Field.Count = 9; i == 5 || i > c.told {
				s.Transparency.Ratio = stats.Missing("too few stars in common")
			}
		}
		night[5].Field.Count = 4
		Judge(night, DefaultLimits)
		if s := night[5]; s.Verdict != c.want {
			t.Errorf("light of %d others: %s %v (%s), want %s", c.told, s.Verdict, s.Causes, told(s), c.want)
		}
	}
}

// A group that dewed from its first sub on is no measure of halos: those through the same
// optics that show less are.
func TestHalosOfADewedGroup(t *testing.T) {
	dewed := makeNight(5, "L", 8, func(_ int, tr *truth) { tr.halo = 0.15 })
	before := makeNight(6, "R", 8, func(_ int, tr *truth) { tr.halo = 0.02 })
	b := newBaseline(dewed, dewed, dewed)
	b.optics(dewed, slices.Concat(dewed, before))
	if !(b.Halo < 0.05) { // drawn with an error of 0.008: 0.02 to 0.04, far from 0.15
		t.Errorf("halo of the baseline %.3f", b.Halo)
	}
}

// Four stars that agree tell a trail where the group's are round, and nothing where the
// stars of all are drawn out any way: exp(-4 x 0.95²), 3 in 100 such fours, agree as well
// by chance (Rayleigh 1905), and what one in a hundred does is none.
func TestFewStarsThatAgree(t *testing.T) {
	for others, want := range map[float64]bool{0.05: true, 0.35: false} {
		night := makeNight(9, "L", 12, func(i int, tr *truth) {
			if tr.ellipticity, tr.coherence = others, 0.2; i == 5 {
				tr.ellipticity, tr.coherence = 0.4, 0.95
			}
		})
		night[5].Field.Ellipticity.N, night[5].Field.FWHM.N = 4, 4
		Judge(night, DefaultLimits)
		if s := night[5]; slices.Contains(s.Causes, Trailed) != want {
			t.Errorf("others' ellipticity %g: %s %v (%s)", others, s.Verdict, s.Causes, told(s))
		}
	}
}

// A sky that rises towards the end of the night is twilight's where it does so as fast as the
// Sun lets it, and a city's or the Moon's where it takes the night. Truth is the rate, in ln(sky) an hour.
func TestSlowRiseIsNoTwilight(t *testing.T) {
	for rate, want := range map[float64]bool{3: true, 0.5: false} {
		var night []*evidence
		for i, s := range makeNight(10, "L", 24, nil) {
			s.Start = time.Date(2026, 3, 1, 1, 0, 0, 0, time.UTC).Add(time.Duration(i) * 10 * time.Minute)
			night = append(night, &evidence{Sub: s, place: i, sky: math.Exp(rate * math.Max(0, float64(i-12)) / 6)})
		}
		for _, e := range night {
			e.night = night
		}
		if got := night[20].risesTowards(1); got != want {
			t.Errorf("%g in ln(sky) an hour: twilight %v", rate, got)
		}
	}
}

// Stars that were out of focus for a part of the exposure are cores as sharp as ever on discs: the
// light around them tells, unless trails, second images or halos spread it.
func TestSharpCoresOnDiscsAreSoft(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Sub)
		soft   bool
	}{
		"discs":         {func(s *Sub) {}, true},
		"trail":         {func(s *Sub) { s.Field.Ellipticity.V, s.Field.Coherence.V = 0.5, 0.95 }, false},
		"second images": {func(s *Sub) { s.Field.Double.Share = stats.Known(0.2, 0.01, 30) }, false},
		"halos":         {func(s *Sub) { s.Field.Halo.V = 0.12 }, false},
		"one star":      {func(s *Sub) { s.Field.HFD.N = 1 }, false},
		"seeing":        {func(s *Sub) { s.Field.HFD.V *= 1.15 / 1.5 }, false},
	} {
		night := makeNight(31, "L", 20, nil)
		s := night[9]
		s.Field.HFD.V = 1.5 * 1.1 * goodSub.fwhm
		c.change(s)
		Judge(night, DefaultLimits)
		if soft := slices.Contains(s.Causes, Soft); soft != c.soft {
			t.Errorf("%s: %s %v: %s", name, s.Verdict, s.Causes, told(s))
		} else if soft && (s.Verdict != Cull || !strings.Contains(told(s), string(SharpCores))) {
			t.Errorf("%s: %s: %s", name, s.Verdict, told(s))
		}
	}
}
