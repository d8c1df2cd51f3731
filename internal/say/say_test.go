package say

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/ledger"
	"fitsqa/internal/night"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

var evening = time.Date(2026, 3, 14, 21, 0, 0, 0, time.UTC)

// made is a sub of 300 s at a minute of the evening.
func made(minute int, verdict subs.Verdict, causes ...subs.Cause) *night.Sub {
	return &night.Sub{Sub: &subs.Sub{File: "lights/a.fits", Target: "T", Filter: "L", Start: evening.Add(time.Duration(minute) * time.Minute),
		Exposure: 300, Verdict: verdict, Causes: causes, PixelScale: 0.8, Weight: stats.Known(0.9, 0.01, 1),
		Transparency: photometry.Transparency{Ratio: stats.Known(0.5, 0.01, 20)},
		Field:        &stars.Field{FWHM: stats.Known(4, 0.1, 50), Ellipticity: stats.Known(0.4, 0.01, 50), Angle: stats.Known(27, 1, 50)}}}
}

func of(all ...*night.Sub) *night.Result { return &night.Result{Subs: all} }

// Every trouble is told once, with a cost; costs add up to what was culled.
func TestTroublesAddUp(t *testing.T) {
	r := of(made(0, subs.Keep), made(5, subs.Cull, subs.Cloud), made(10, subs.Cull, subs.Cloud, subs.Soft), made(15, subs.Doubtful, subs.Cloud),
		made(20, subs.Cull, subs.Trailed), made(80, subs.Cull, subs.Trailed), made(90, subs.Doubtful, subs.Soft))
	a := Of(r, "out")
	if len(a.Trouble) != 3 {
		t.Fatalf("%d troubles", len(a.Trouble))
	}
	seconds, culled := 0.0, 0
	for _, trouble := range a.Trouble {
		seconds += trouble.CulledSeconds
		culled += trouble.Culled
	}
	if culled != 4 || seconds != 4*300 {
		t.Errorf("%d culled, %v s", culled, seconds)
	}
	for i, want := range []string{
		"Cloud from 21:05 to 21:20 let through 50\u00a0% of the light. 2 culled (10\u00a0min), 1 doubtful.",
		"2\u00a0subs trailed, at 21:20 and at 22:20: ellipticity 0.40, all in one direction",
		"Soft stars at 22:30: FWHM 4.0\u00a0px (3.2″). Doubtful.",
	} {
		if !strings.Contains(a.Trouble[i].Sentence, want) {
			t.Errorf("%q does not say %q", a.Trouble[i].Sentence, want)
		}
	}
	if want := "4\u00a0subs to move aside: fitsqa cull --apply out "; !strings.HasPrefix(a.Morning[0], want) {
		t.Errorf("%q", a.Morning[0])
	}
}

// A night that one thing spoiled says so, one with a few such subs does not.
func TestPoorNight(t *testing.T) {
	var most, few []*night.Sub
	for i := range 10 {
		s := made(5*i, subs.Doubtful, subs.Haze)
		most = append(most, s)
		if i < 3 {
			few = append(few, s)
		} else {
			few = append(few, made(5*i, subs.Keep))
		}
	}
	if got := Of(of(most...), "").Poor; got != "A poor night: 10 of 10\u00a0subs are hazy" {
		t.Errorf("%q", got)
	}
	if got := Of(of(few...), "").Poor; got != "" {
		t.Errorf("three of ten: %q", got)
	}
}

// Stars of which only the pixel tells that they are wide may be good ones: it is said, and the
// night is not called poor for it.
func TestSoftByPixelsAlone(t *testing.T) {
	var all []*night.Sub
	for i := range 5 {
		s := made(5*i, subs.Doubtful, subs.Soft)
		s.PixelScale = math.NaN()
		s.Findings = []subs.Finding{{Cause: subs.Soft, Verdict: subs.Doubtful, Facts: []fact.Fact{fact.Of(subs.WidthAlone, fact.Number("fwhm_px", 7)), fact.Of(subs.WidthLimitPx, fact.Number("limit_px", 5))}}}
		all = append(all, s)
	}
	a := Of(of(all...), "")
	if want := "FWHM up to 4.0\u00a0px; limit 5\u00a0px, the pixel scale being unknown. 5 doubtful."; a.Poor != "" || !strings.HasSuffix(a.Trouble[0].Sentence, want) {
		t.Errorf("%q, %q", a.Poor, a.Trouble[0].Sentence)
	}
	all[0].Findings[0].Facts = []fact.Fact{fact.Of(subs.Width)}
	if got := Of(of(all...), "").Poor; got != "" {
		t.Errorf("one of five beside the group's width: %q", got)
	}
	for _, s := range all[1:3] {
		s.Findings[0].Facts = all[0].Findings[0].Facts
	}
	if got := Of(of(all...), "").Poor; got != "A poor night: 5 of 5\u00a0subs are soft" {
		t.Errorf("three beside the group's width: %q", got)
	}
}

// Without times a trouble is told without one, and nothing stands in its place.
func TestTroubleWithoutTimes(t *testing.T) {
	s := made(0, subs.Cull, subs.Trailed)
	s.Start = time.Time{}
	if got := Of(of(s), "").Trouble[0].Sentence; !strings.HasPrefix(got, "1\u00a0sub trailed: ellipticity 0.40") {
		t.Errorf("%q", got)
	}
	for _, c := range []subs.Cause{subs.BrightSky, subs.Haze, subs.Cloud, subs.Dewed, subs.Obstructed, subs.Moonlit, subs.Soft, subs.Trailed} {
		a, b := made(0, subs.Cull, c), made(5, subs.Cull, c)
		a.Start, b.Start = time.Time{}, time.Time{}
		for _, x := range Of(of(a, b), "out").Trouble {
			for _, odd := range []string{" ,", " .", "  ", " :"} {
				if strings.Contains(x.Sentence, odd) {
					t.Errorf("%s: %q holds %q", c, x.Sentence, odd)
				}
			}
		}
	}
}

// Doubled stars are round: they are told as what they are, and do not widen the range of
// ellipticities.
func TestDoubledAreNotToldByEllipticity(t *testing.T) {
	doubled := func(minute int) *night.Sub {
		s := made(minute, subs.Cull, subs.Trailed)
		s.Field.Ellipticity.V = 0.01
		s.Findings = []subs.Finding{{Cause: subs.Trailed, Verdict: subs.Cull, Facts: []fact.Fact{fact.Of(subs.StarsDoubled)}}}
		return s
	}
	for want, all := range map[string][]*night.Sub{
		"1\u00a0sub with every star twice, at 21:00: the mount jumped, or ":                                                              {doubled(0)},
		"3\u00a0subs trailed, at 21:05 and from 22:00 to 22:10, 1 of them with every star twice, as a jump leaves it: ellipticity 0.40,": {made(5, subs.Cull, subs.Trailed), doubled(60), made(65, subs.Cull, subs.Trailed)},
	} {
		if got := Of(of(all...), "").Trouble[0].Sentence; !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Over several nights times carry their date.
func TestDatesOverNights(t *testing.T) {
	cloud := func(minute int) *night.Sub { return made(minute, subs.Cull, subs.Cloud) }
	const day = 24 * 60
	for _, c := range []struct {
		night []*night.Sub
		want  string
	}{
		{[]*night.Sub{cloud(0), cloud(5)}, "from 21:00 to 21:10"},
		{[]*night.Sub{cloud(0), cloud(5), made(day, subs.Keep)}, "from 14 Mar 21:00 to 21:10"},
		{[]*night.Sub{cloud(0), made(293*day, subs.Keep)}, "at 14 Mar 2026 21:00"},
	} {
		if got := Of(of(c.night...), "").Trouble[0].Sentence; !strings.Contains(got, c.want) {
			t.Errorf("%q does not say %q", got, c.want)
		}
	}
}

// A good sub between bad ones ends their spell, one that suffers too does not, nor
// does one of another camera; what two cameras suffer from at once is one spell.
func TestSpells(t *testing.T) {
	cloud := func(minute int) *night.Sub { return made(minute, subs.Cull, subs.Cloud) }
	second := func(minute int) *night.Sub {
		s := cloud(minute)
		s.Camera = "second"
		return s
	}
	good := func(minute int) *night.Sub { return made(minute, subs.Keep) }
	other := good(6)
	other.Camera = "second"
	for want, all := range map[string][]*night.Sub{
		"Cloud from 21:00 to 21:15 let":          {cloud(0), cloud(5), other, cloud(10)},
		"Cloud from 21:00 to 21:10 and at 21:15": {cloud(0), cloud(5), good(10), cloud(15)},
		"Cloud in 4 spells from 21:00 to 21:35":  {cloud(0), good(5), cloud(10), good(15), cloud(20), good(25), cloud(30)},
		"Cloud from 21:00 to 21:15":              {cloud(0), made(5, subs.Cull, subs.Trailed, subs.Cloud), cloud(10)},
		"Cloud at 21:00 and at 22:00":            {cloud(0), cloud(60)},
		"Cloud from 21:00 to 21:16 let":          {cloud(0), second(1), cloud(5), second(6), cloud(10), second(11)},
		"Cloud at 21:00 and at 21:09":            {cloud(0), second(9)},
		"2\u00a0subs are copies:":                {good(0), made(0, subs.Cull, subs.Duplicate), good(5), made(5, subs.Cull, subs.Duplicate)},
	} {
		found := false
		for _, trouble := range Of(of(all...), "").Trouble {
			found = found || strings.HasPrefix(trouble.Sentence, want)
		}
		if !found {
			t.Errorf("nothing begins with %q", want)
		}
	}
}

// A sensor that was still warm was set to nothing wrong: that is said of none but such subs.
func TestWarmSensorIsNoWrongSetting(t *testing.T) {
	warm := made(0, subs.Cull, subs.WrongSettings)
	warm.Warmed = true
	alone := Of(of(warm, made(5, subs.Keep)), "").Trouble[0].Sentence
	if !strings.Contains(alone, "was shot with a warmer sensor") || !strings.Contains(alone, ": let it come to its temperature first") {
		t.Errorf("warm: %s", alone)
	}
	mixed := Of(of(warm, made(5, subs.Cull, subs.WrongSettings)), "").Trouble[0].Sentence
	if !strings.Contains(mixed, "were shot with other settings") || !strings.Contains(mixed, ": check the sequence") {
		t.Errorf("mixed: %s", mixed)
	}
}

// Few subs in a row are put down to what came right before them.
func TestAfterWhat(t *testing.T) {
	flipped := made(5, subs.Cull, subs.Trailed)
	flipped.PierSide = "west"
	before := made(0, subs.Keep)
	before.PierSide = "east"
	filter := made(5, subs.Cull, subs.Soft)
	filter.Filter = "Ha"
	for want, all := range map[string][]*night.Sub{
		"at the start of the night":                     {made(0, subs.Cull, subs.Trailed), made(5, subs.Keep)},
		"right after the meridian flip":                 {before, flipped, made(10, subs.Keep)},
		"right after the change of filter: focus there": {made(0, subs.Keep), filter, made(10, subs.Keep)},
	} {
		if got := Of(of(all...), "").Trouble[0].Sentence; !strings.Contains(got, ", "+want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

// Twilight at either end of the night, or at both.
func TestTwilightEnds(t *testing.T) {
	bright := func(minute int) *night.Sub { return made(minute, subs.Cull, subs.Twilight) }
	dark := func(minute int) *night.Sub { return made(minute, subs.Keep) }
	for want, all := range map[string][]*night.Sub{
		": begin later, ":                 {bright(0), dark(5), dark(10)},
		": end earlier, ":                 {dark(0), dark(5), bright(10)},
		": begin later and end earlier, ": {bright(0), dark(5), bright(10)},
	} {
		if got := Of(of(all...), "").Trouble[0].Sentence; !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

// Subs that stay and are worth much less than their time say why.
func TestWorthLess(t *testing.T) {
	r := of(made(0, subs.Keep), made(5, subs.Keep))
	for i, s := range r.Subs {
		s.Transparency.Ratio, s.SkyADU = stats.Known(1, 0.01, 20), stats.Known(100+200*float64(i), 1, 1)
		s.Sky.MoonAlt, s.Calibrated = stats.Known(24, math.NaN(), 0), true
	}
	r.Verdicts = &subs.Result{Groups: []*subs.Group{{UsableSeconds: 600, EquivalentClearSeconds: 360, Baseline: subs.Baseline{Sky: 100}}}}
	if got, want := Of(r, "").Less, "The 10\u00a0min that stay are worth 6\u00a0min of the best sky: the sky grew up to 3.0 times as bright with the Moon at 24°."; got != want {
		t.Errorf("%q", got)
	}
	for _, s := range r.Subs {
		s.Calibrated = false
	}
	if got, want := Of(r, "").Less, "the sky grew up to 3.0 times as bright or more with the Moon at 24°."; !strings.HasSuffix(got, want) {
		t.Errorf("offset unknown: %q does not end with %q", got, want)
	}
	r.Verdicts.Groups[0].EquivalentClearSeconds = 540
	if got := Of(r, "").Less; got != "" {
		t.Errorf("nine tenths: %q", got)
	}
}

// Soft subs that hold much of a group's light are worth a layer of their own.
// A sub to register on is named by its folder where other folders have one of its name.
func TestReferenceIsOneFile(t *testing.T) {
	field := func(fwhm float64) *stars.Field { return &stars.Field{FWHM: stats.Known(fwhm, 0.1, 40)} }
	r := of(made(0, subs.Keep), made(5, subs.Keep), made(10, subs.Keep))
	for i, s := range r.Subs {
		s.Target, s.Field, s.Weight = "Heron Nebula", field(3+float64(i)), stats.Known(1, 0.01, 40)
	}
	for _, c := range []struct{ other, want string }{{"b/2.fits", "Register on 1.fits."}, {"b/1.fits", "Register on a/1.fits."}} {
		r.Subs[0].File, r.Subs[1].File, r.Subs[2].File = "a/1.fits", c.other, "a/3.fits"
		if got := Of(r, "").Morning; got[len(got)-1] != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestSoftLayer(t *testing.T) {
	var group []*subs.Sub
	for i := range 4 {
		group = append(group, made(5*i, subs.Cull, subs.Soft).Sub)
	}
	r := of(made(30, subs.Keep))
	g := &subs.Group{Filter: "Ha", Subs: group, Economics: subs.Economics{Stacked: 9, UserDrop: 4, Weighted: []float64{1.2}, UserWeighted: 0.9}}
	r.Verdicts = &subs.Result{Groups: []*subs.Group{g}}
	if got, want := strings.Join(Of(r, "").Morning, " "), "Ha: culling 4 of 9 takes 25\u00a0% of the signal to noise; stack the 4\u00a0soft ones apart"; !strings.Contains(got, want) {
		t.Errorf("%q", got)
	}
	g.Economics.UserWeighted = 1.15
	if got := strings.Join(Of(r, "").Morning, " "); strings.Contains(got, "layer") {
		t.Errorf("4 %% of the signal to noise: %q", got)
	}
}

// Sentences of other packages are set like those of this one; names of files stay.
func TestTypeset(t *testing.T) {
	for text, want := range map[string]string{
		"darks at -10 °C, 20 ± 4e+01 ADU²":          "darks at −10\u00a0°C, 20 ± 40\u00a0ADU²",
		"by -14.5 % and (-3 %) of 300 s":            "by −14.5\u00a0% and (−3\u00a0%) of 300\u00a0s",
		"copy of a -10 3 s.fits: -5 °C":             "copy of a -10 3 s.fits: −5\u00a0°C",
		"18 subs: -93.0 °C (in a -1.fits), -0.0 °C": "18\u00a0subs: −93.0\u00a0°C (in a -1.fits), 0.0\u00a0°C",
		"on 2025-10-20 1.5e-05 of M16-3":            "on 2025-10-20 0.000015 of M16-3",
		"2 sorts of 3 hours, 5 subs, 1 dark":        "2 sorts of 3 hours, 5\u00a0subs, 1\u00a0dark",
	} {
		if got := Typeset(text); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Names of files and folders are hostile text.
func TestNamesArePrintable(t *testing.T) {
	s := made(0, subs.Keep)
	s.File, s.Target = "a\x1b[31m.fits", "T\x1b[0m"
	bad := made(5, subs.Cull, subs.Unreadable)
	bad.ReadErr = "no\x1b]0;x"
	a := Of(of(s, bad), "o\x07ut dir")
	for _, text := range append(a.Morning, a.Trouble[0].Sentence) {
		if strings.ContainsAny(text, "\x1b\x07") {
			t.Errorf("%q", text)
		}
	}
	if !strings.Contains(strings.Join(a.Morning, " "), "'o") {
		t.Errorf("a folder with a blank is not quoted: %q", a.Morning)
	}
}

func TestNumbers(t *testing.T) {
	for got, want := range map[string]string{
		number(-0.2, 1): "−0.2", number(-0.04, 1): "0.0", rough(5.17): "5.2", rough(1234): "1200", rough(0.0567): "0.057",
		duration(40): "40\u00a0s", duration(1080): "18\u00a0min", duration(7500): "2\u00a0h 05\u00a0min", duration(7200): "2\u00a0h",
		span(10, 67, 0, "%"): "10 to 67\u00a0%", span(0.4, 0.4, 2, ""): "0.40", count(1, "sub"): "1\u00a0sub", count(2, "sub"): "2\u00a0subs",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What changed of the camera stands first among what is told of calibration.
func TestChangesOfTheCameraAreTold(t *testing.T) {
	noise := night.CameraChange{Camera: "Lumen M16", Metric: "read_noise_e", Setting: "gain 100, offset 50", Unit: "e-",
		Latest: stats.Known(2.21, 0.008, 20), Before: stats.Known(2.05, 0.021, 20), Until: "2025-03-01"}
	hot := night.CameraChange{Camera: "Lumen M16", Metric: "hot_pixels", Setting: "gain 100", Latest: stats.Known(1400, math.NaN(), 5), Before: stats.Known(1000.25, 0, 5), Until: "2025-03-01"}
	want := []string{"Lumen M16: number of hot pixels 1400 (gain 100), was 1000.3 until 2025-03-01: shoot darks anew.",
		"Lumen M16: read noise 2.2100 ± 0.0080 e- (gain 100, offset 50), was 2.050 ± 0.021 until 2025-03-01: look at power supply, cable and read-out mode."}
	if got := calibration(&night.Result{Changes: []night.CameraChange{noise, hot, noise}}); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

func TestChangeOfASeries(t *testing.T) {
	s := &ledger.Series{Camera: "C1", Metric: "read_noise_e", Setting: "gain 100, -10 °C", Unit: "e-",
		Change: &ledger.Change{Before: ledger.Point{Value: 1.505}, Latest: ledger.Point{Value: 1.8, Night: "2025-03-01"}, Limit: 0.04515}}
	if got := Changed(s); got != "C1: read noise (gain 100, -10 °C) went from 1.505 to 1.8 e- on 2025-03-01; beyond the 0.045 that noise and daily change explain" {
		t.Errorf("%q", got)
	}
	if got := Changed(&ledger.Series{}); got != "" {
		t.Errorf("no change: %q", got)
	}
}

// A target that stood low is told with its altitude and the way it went, no focus.
func TestSoftStarsLow(t *testing.T) {
	at := func(minute int, altitude float64, low bool) *night.Sub {
		s := made(minute, subs.Cull, subs.Soft)
		s.Low, s.Sky.TargetAlt = low, stats.Known(altitude, math.NaN(), 1)
		return s
	}
	for _, c := range []struct {
		subs []*night.Sub
		want string
	}{
		{[]*night.Sub{at(0, 30, true), at(5, 27, true), at(10, 24.4, false)}, ", as the target stood only 27 to 30° high and sank: end earlier"},
		{[]*night.Sub{at(0, 22, true), at(5, 26, true)}, ", as the target stood only 22 to 26° high and rose: begin later"},
		{[]*night.Sub{at(0, 22, true), at(5, 26, false)}, "FWHM up to 4.0\u00a0px (3.2″). 2 culled"},
	} {
		a := Of(of(c.subs...), "out")
		if got := a.Trouble[0].Sentence; !strings.Contains(got, c.want) {
			t.Errorf("%q does not say %q", got, c.want)
		}
	}
}

// Dusk and dawn are told apart by what stayed beside them, or by the way the Sun goes;
// where it was up, it is warned of.
func TestTwilightTellsWhen(t *testing.T) {
	at := func(minute int, sun float64, v subs.Verdict, causes ...subs.Cause) *night.Sub {
		s := made(minute, v, causes...)
		s.Sky.SunAlt = stats.Known(sun, math.NaN(), 1)
		return s
	}
	dusk := []*night.Sub{at(0, -2, subs.Cull, subs.Twilight), at(20, -5, subs.Cull, subs.Twilight)}
	dawn := []*night.Sub{at(0, -5, subs.Cull, subs.Twilight), at(20, -2, subs.Cull, subs.Twilight)}
	day := []*night.Sub{at(0, -1, subs.Cull, subs.Twilight), at(20, 2, subs.Cull, subs.Twilight)}
	for _, c := range []struct {
		subs      []*night.Sub
		want      string
		forbidden string
	}{
		{dusk, "begin later, twilight", "solar filter"},
		{dawn, "end earlier, twilight", "solar filter"},
		{day, "flats. Never point a telescope without a solar filter near the Sun. 2 culled", "begin"},
		{append(dusk, at(80, -30, subs.Keep)), "begin later, twilight", "end earlier"},
		{append([]*night.Sub{at(-80, -30, subs.Keep)}, dawn...), "end earlier, twilight", "begin later"},
	} {
		if got := Of(of(c.subs...), "out").Trouble[0].Sentence; !strings.Contains(got, c.want) || strings.Contains(got, c.forbidden) {
			t.Errorf("%q does not say %q, or says %q", got, c.want, c.forbidden)
		}
	}
}

// What the Sun lights by day is no twilight, and a sky that fills the range hides the stars.
func TestDaylightAndFullSky(t *testing.T) {
	day, full := made(0, subs.Cull, subs.Twilight), made(0, subs.Cull, subs.NoStars)
	day.Sky.SunAlt = stats.Known(35, math.NaN(), 0)
	full.Field = &stars.Field{Full: true}
	dusk := made(0, subs.Cull, subs.Twilight)
	dusk.Sky.SunAlt = stats.Known(-5, math.NaN(), 0)
	for want, s := range map[string]*night.Sub{
		"Daylight at 21:00, the Sun at 35°: if it was dark, the headers' time, zone or longitude is wrong; else never point": day,
		"Twilight at 21:00, the Sun at −5°: end earlier":                                                                     dusk,
		"the sky fills the camera's range; expose shorter, or in the dark. Culled":                                           full,
	} {
		if got := Of(of(s), "").Trouble[0].Sentence; !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}
