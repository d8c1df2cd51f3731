package subs

import (
	"math"
	"strings"
	"testing"

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
			t.Errorf("%s: %s %v (%s), want cull for %s", s.File, s.Verdict, s.Causes, s.Sentence, want)
		case want == "" && s.Verdict != Keep && !(mayDoubt != nil && mayDoubt(i) && s.Verdict == Doubtful):
			t.Errorf("%s: %s %v (%s), want keep", s.File, s.Verdict, s.Causes, s.Sentence)
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
		{"optics elongate every star", func(i int, tr *truth) { tr.ellipticity, tr.coherence = 0.24, 0.9 },
			func(i int) Cause { return "" }, nil},
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
				tr.sky = math.Pow(2.5, float64(i-35))
			}
		}, func(i int) Cause {
			if i >= 37 {
				return Twilight
			}
			return ""
		}, func(i int) bool { return i == 36 }},
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
			Judge(night, DefaultLimits)
			wantVerdicts(t, night, c.spoiled, c.mayDoubt)
		})
	}
}

// What the optics do to every sub is said of the group.
func TestElongationOfAll(t *testing.T) {
	night := makeNight(1, "R", 20, func(i int, tr *truth) { tr.ellipticity, tr.coherence, tr.angle = 0.4, 0.95, -60 })
	res := Judge(night, DefaultLimits)
	wantVerdicts(t, night, func(int) Cause { return "" }, nil)
	if n := res.Groups[0].Notes; len(n) != 1 || !strings.HasPrefix(n[0], "the stars of all subs are elongated alike, by 0.36 along -60°") {
		t.Errorf("notes %q", n)
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
	night[3].Field, night[3].ReadErr, night[3].TruncatedFile = nil, "truncated: 12 of 40 bytes arrived (30 %)", true
	night[4].Field, night[4].ReadErr = nil, "malformed: no NAXIS"
	night[5].DuplicateOf = night[4].File
	night[6].GainSetting, night[6].Stack = 0, 1
	night[7].Exposure, night[7].Stack = 2, 2
	night[8].SensorTemp = -1
	night[9].Binning, night[9].Width, night[9].Height, night[9].Stack = 2, 800, 600, 3
	night[10].Filter, night[10].Stack = "Ha", 4
	Judge(night, DefaultLimits)
	want := map[int]Cause{3: Truncated, 4: Unreadable, 5: Duplicate, 6: WrongSettings, 7: WrongSettings, 8: WrongSettings, 9: WrongSettings}
	wantVerdicts(t, night, func(i int) Cause { return want[i] }, func(i int) bool { return i == 10 })
	if night[10].Verdict != Doubtful || night[10].Causes[0] != WrongSettings {
		t.Errorf("one Ha sub among L: %s %v", night[10].Verdict, night[10].Causes)
	}
	for _, s := range night {
		if len(s.Causes) > 0 && s.Sentence == "" {
			t.Errorf("%s: no sentence", s.File)
		}
	}
}

// A sub's sentence gives figure, baseline and limit.
func TestSentence(t *testing.T) {
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
	if want := "FWHM 4.9 px, 1.46 times the filter's 3.36, its neighbours are sharp: seeing or wind; limit 1.4"; night[6].Sentence != want {
		t.Errorf("got  %s\nwant %s", night[6].Sentence, want)
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
	if n := res.Groups[0].Notes; len(n) == 0 || !strings.Contains(n[0], "absolute limits only") {
		t.Errorf("notes %q do not say so", n)
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
	if !strings.HasPrefix(night[3].Sentence, "your decision: keep (measured: cull); ellipticity") {
		t.Errorf("sentence %q", night[3].Sentence)
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
