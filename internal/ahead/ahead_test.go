package ahead

import (
	"math"
	"testing"
	"time"

	"fitsqa/internal/ledger"
	"fitsqa/internal/names"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stats"
)

var testSite = &sky.Site{Lat: 47.5, Lon: -20, Elevation: 400}

// nebula culminates around midnight in late October.
func nebula(filters ...names.Name) Target {
	t := Target{Name: "Heron Nebula", RA: 35, Dec: 30}
	for _, name := range filters {
		nm, known := wavelength(name, plan.Options{})
		t.Filters = append(t.Filters, Filter{Name: name, WavelengthNM: nm, Known: known, GoalHours: 20,
			Sky: Sky{Rate: 1, Mag: 20.3, MagErr: 0.2, Nights: 3}, PixelScale: 0.8, ReadNoise: 2, LastExposure: math.NaN(), Gap: gap(nil)})
	}
	return t
}

func evening(date string) time.Time {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		panic(err)
	}
	return t.Add(20 * time.Hour)
}

// hours per filter, and of these under the Moon.
func tally(n Night) (all, underMoon map[names.Name]float64) {
	all, underMoon = map[names.Name]float64{}, map[names.Name]float64{}
	for _, b := range n.Blocks {
		all[b.Filter] += b.Span.Hours()
		if b.Moon {
			underMoon[b.Filter] += b.Span.Hours()
		}
	}
	return all, underMoon
}

// A week with a waxing Moon that sets later each night, as an experienced
// imager would use it: hydrogen while the Moon is up, oxygen and luminance after
// it has set; and all of the dark time is used.
func TestWeekWithMoon(t *testing.T) {
	opt := DefaultOptions
	nights := Plan(testSite, evening("2026-10-20"), []Target{nebula("L", "Ha", "OIII")}, opt)
	if len(nights) != 7 {
		t.Fatalf("%d nights", len(nights))
	}
	for i, n := range nights {
		if want := evening("2026-10-20").AddDate(0, 0, i).Format(time.DateOnly); n.Date != want {
			t.Errorf("night %d is of %s, want %s", i, n.Date, want)
		}
		all, moon := tally(n)
		if moon["OIII"]+moon["L"] > 0.5 && n.Moonless > 2 {
			t.Errorf("%s: L and OIII have %v under the Moon (%v)", n.Date, moon, all)
		}
		if used := all["L"] + all["Ha"] + all["OIII"]; n.Targets[0].Hours > 1 && used < 0.7*n.Targets[0].Hours && n.MoonLit < 90 {
			t.Errorf("%s: %.1f of %.1f hours are used", n.Date, used, n.Targets[0].Hours)
		}
		for j, b := range n.Blocks {
			if b.Span.Hours() < 0.5 && len(n.Blocks) > 1 {
				t.Errorf("%s: a stretch of %v", n.Date, b.Span.End.Sub(b.Span.Start))
			}
			if j > 0 && b.Span.Start.Before(n.Blocks[j-1].Span.End) {
				t.Errorf("%s: stretches overlap", n.Date)
			}
			if up := n.Targets[0].Up; b.Span.Start.Before(up.Start) || b.Span.End.After(up.End) {
				t.Errorf("%s: a stretch outside the dark, or below the altitude", n.Date)
			}
		}
	}
}

// A goal that is nearly reached gets what it needs and no more.
func TestGoalsAreNotOvershot(t *testing.T) {
	target := nebula("L", "R")
	target.Filters[0].HaveHours, target.Filters[0].GoalHours = 9, 10
	target.Filters[1].HaveHours, target.Filters[1].GoalHours = 10, 10
	opt := DefaultOptions
	opt.Nights = 1
	all, _ := tally(Plan(testSite, evening("2026-11-10"), []Target{target}, opt)[0])
	if all["R"] > 0 || all["L"] < 0.9 || all["L"] > 1.8 {
		t.Errorf("%v: L lacks one clear hour, R nothing", all)
	}
}

// Without goals filters share a night alike.
func TestEqualShares(t *testing.T) {
	target := nebula("R", "G")
	for i := range target.Filters {
		target.Filters[i].GoalHours = 0
	}
	opt := DefaultOptions
	opt.Nights = 1
	all, _ := tally(Plan(testSite, evening("2026-11-10"), []Target{target}, opt)[0])
	if !(math.Abs(all["R"]-all["G"]) <= 1.2) || all["R"] < 2 {
		t.Errorf("%v", all)
	}
}

// Without goals no dark time is left while a filter bears the sky: a share of the night that
// is used up ends nothing. A night that has nothing to shoot tells why.
func TestNoDarkTimeIsLeft(t *testing.T) {
	target := nebula("L", "Ha")
	for i := range target.Filters {
		target.Filters[i].GoalHours = 0
	}
	for _, n := range Plan(testSite, evening("2026-10-20"), []Target{target}, DefaultOptions) { // the Moon is full on the 26th
		if len(n.Blocks) == 0 {
			if n.Idle != SkyTooBright {
				t.Errorf("%s: nothing to shoot, %q", n.Date, n.Idle)
			}
			continue
		}
		if last := n.Blocks[len(n.Blocks)-1]; n.Idle != "" || n.Targets[0].Up.End.Sub(last.Span.End) > slotLength/2 {
			t.Errorf("%s: the last stretch ends at %v, the target is up until %v (%q)", n.Date, last.Span.End, n.Targets[0].Up.End, n.Idle)
		}
		hours := map[names.Name]float64{}
		for j, b := range n.Blocks {
			hours[b.Filter] += b.Span.Hours()
			if j > 0 && !n.Blocks[j].Span.Start.Equal(n.Blocks[j-1].Span.End) {
				t.Errorf("%s: nothing from %v to %v", n.Date, n.Blocks[j-1].Span.End, n.Blocks[j].Span.Start)
			}
		}
		if n.MoonLit < 75 && min(hours["L"], hours["Ha"]) < n.Targets[0].Hours/4 {
			t.Errorf("%s: %v of %.1f h: no equal shares", n.Date, hours, n.Targets[0].Hours)
		}
	}
	target.Dec = -60
	opt := DefaultOptions
	opt.Nights = 1
	if n := Plan(testSite, evening("2026-10-20"), []Target{target}, opt)[0]; n.Idle != NoneHigh {
		t.Errorf("a target that never rises: %q", n.Idle)
	}
	if n := Plan(testSite, evening("2026-10-20"), nil, opt)[0]; n.Idle != NothingWanted {
		t.Errorf("no target: %q", n.Idle)
	}
}

// At 64° the Sun does not sink to -18° in May, nor to -12° in June.
func TestNightsWithoutDarkness(t *testing.T) {
	north := &sky.Site{Lat: 64, Lon: -20}
	opt := DefaultOptions
	opt.Nights = 1
	may := Plan(north, evening("2026-04-18"), []Target{nebula("L")}, opt)[0]
	if !may.Nautical || may.DarkHours <= 0 {
		t.Errorf("April: %+v", may.Dark)
	}
	june := Plan(north, evening("2026-06-20"), []Target{nebula("L")}, opt)[0]
	if june.DarkHours != 0 || len(june.Blocks) != 0 {
		t.Errorf("June: %v, %v", june.Dark, june.Blocks)
	}
	winter := Plan(&sky.Site{Lat: 78, Lon: 15}, evening("2026-12-20"), []Target{nebula("L")}, opt)[0]
	if winter.DarkHours < 14 { // the Sun stays below -11° all day there
		t.Errorf("polar night: %v h", winter.DarkHours)
	}
}

// The dark sky is found again from subs that were shot under the Moon, and from
// moonless ones alone where there are enough.
func TestMeasuredSky(t *testing.T) {
	const darkMag, darkRate = 20.4, 0.7
	under := func(hour int, withMoon bool) ledger.Sub {
		start := time.Date(2026, 10, 24, 21, 0, 0, 0, time.UTC).Add(time.Duration(hour) * 20 * time.Minute) // Moon near full
		c := sky.At(testSite, start, 35, 30)
		ratio := 1.0
		if withMoon {
			ratio = 1 + c.MoonlightNL.V*sky.MoonColour(550, c.MoonSeparation.V)/sky.NLFromMag(darkMag)
		}
		return ledger.Sub{Start: start, Night: "2026-10-24", Verdict: "keep", RA: 35, Dec: 30,
			Sky: darkRate * ratio, SkyMag: darkMag - 2.5*math.Log10(ratio)}
	}
	var shot []ledger.Sub
	for i := range 8 {
		shot = append(shot, under(i, true))
	}
	if c := sky.At(testSite, shot[0].Start, 35, 30); c.MoonAlt.V < 10 {
		t.Fatal("the test's Moon is not up")
	}
	got := measuredSky(testSite, shot, 550)
	if !(math.Abs(got.Mag-darkMag) <= 0.01) || !(math.Abs(got.Rate-darkRate) <= 0.01*darkRate) {
		t.Errorf("%+v, want %v mag and %v e-/s", got, darkMag, darkRate)
	}
	if none := measuredSky(testSite, nil, 550); none.Nights != 0 || !math.IsNaN(none.Rate) || none.Mag != AssumedMag {
		t.Errorf("nothing measured: %+v", none)
	}
}

func TestWavelengthOfNames(t *testing.T) {
	for name, want := range map[names.Name]float64{"Ha": 656, "H-alpha 7nm": 656, "Hα": 656, "OIII": 501, "O3": 501, "SII": 672, "S2 3nm": 672,
		"Hb": 486, "L": 550, "Lum": 550, "": 550, "R": 620, "Green": 535, "B": 460} {
		if got, known := wavelength(name, plan.Options{}); got != want || !known {
			t.Errorf("%q: %v %v, want %v", name, got, known, want)
		}
	}
	if _, known := wavelength("Halo", plan.Options{}); known {
		t.Error("Halo was taken for a line")
	}
	opt := plan.Options{Filters: []plan.Filter{{Name: "Duo", WavelengthNM: 600}}}
	if got, known := wavelength("duo", opt); got != 600 || !known {
		t.Errorf("the user's word: %v %v", got, known)
	}
}

// Right ascensions either side of 0 h have their median there, not at 180°.
func TestPointingAcrossZero(t *testing.T) {
	var s Season
	for _, ra := range []float64{359.9, 0.1, 0.3} {
		s.Subs = append(s.Subs, ledger.Sub{Target: "T", RA: ra, Dec: 10})
	}
	s.Subs = append(s.Subs, ledger.Sub{Target: "T", RA: math.NaN(), Dec: math.NaN()})
	if ra, dec := s.pointing("t", testSite); !(math.Abs(ra-0.1) <= 1e-9) || dec != 10 {
		t.Errorf("%v %v", ra, dec)
	}
}

// A sky is that of the site, by the camera in use: what was measured elsewhere, or
// with another camera, does not count; a sub that does not tell its site does.
func TestSkyOfThisSiteAndCamera(t *testing.T) {
	sub := func(lat, lon float64, camera names.Name, file string) ledger.Sub {
		return ledger.Sub{Lat: lat, Lon: lon, Camera: camera, File: file}
	}
	got := comparable(testSite, []ledger.Sub{
		sub(47.5, -20, "Old", "other camera"), sub(30, 10, "New", "elsewhere"), sub(47.52, 340.02, "New", "here"),
		sub(math.NaN(), math.NaN(), "New", "silent"), sub(30, 10, "Old", "elsewhere last"),
	})
	if len(got) != 2 || got[0].File != "here" || got[1].File != "silent" {
		t.Errorf("%+v", got)
	}
	if none := comparable(testSite, []ledger.Sub{sub(30, 10, "New", "elsewhere")}); none != nil {
		t.Errorf("%+v", none)
	}
}

// Where a target stands, how large its pixels are and how long it is exposed are
// those of the set-up that shot it last from here: not of the camera before, framed
// otherwise, nor of the same camera behind another telescope, nor of another site.
func TestTheSetUpInUse(t *testing.T) {
	nan := math.NaN()
	var s Season
	start := time.Date(2026, 1, 18, 22, 0, 0, 0, time.UTC) // a night without the Moon
	add := func(n int, camera names.Name, lat, lon, ra, scale, exposure, rate float64) {
		for range n {
			start = start.Add(2 * time.Minute)
			s.Subs = append(s.Subs, ledger.Sub{Start: start, Night: "2026-01-18", Target: "Heron Nebula", Filter: "L", Verdict: "keep", Camera: camera, Lat: lat, Lon: lon,
				RA: ra, Dec: 30, Scale: scale, Exposure: exposure, Sky: rate, SkyMag: nan})
		}
	}
	add(30, "Old", 47.5, -20, 34, 2.5, 120, 3)      // another camera
	add(30, "Now", 47.5, -20, 34.3, 1.6, 120, 2)    // before the reducer was taken out
	add(12, "Now", 47.5, -20, 35, 0.8, 300, 0.5)    // in use
	add(9, "Now", 47.5, -20, 35.2, 0.805, 300, 0.5) // solved on the sky
	add(40, "Travel", 30, 10, 33, 4, 60, 9)         // far away
	s.Camera = []sensor.Remembered{{Camera: "Now", Metric: "read_noise_e", Value: stats.Known(1.5, 0.1, 20)}, {Camera: "Travel", Metric: "read_noise_e", Value: stats.Known(5, 0.1, 20)}}
	opt := plan.DefaultOptions
	opt.Goals = []plan.Goal{{Target: "Heron Nebula", Filter: "L", Hours: 10}}
	targets, _ := s.Targets(opt, testSite)
	if len(targets) != 1 || targets[0].RA != 35 {
		t.Fatalf("%+v", targets)
	}
	f := targets[0].Filters[0]
	if f.PixelScale != 0.805 || f.LastExposure != 300 || f.ReadNoise != 1.5 || !(math.Abs(f.Sky.Rate-0.5) < 0.1) {
		t.Errorf("%+v", f)
	}
	// From a third place the target is where the latest set-up had it; its sky is not known.
	targets, _ = s.Targets(opt, &sky.Site{Lat: -20, Lon: 100})
	if f := targets[0].Filters[0]; targets[0].RA != 33 || f.LastExposure != 60 || f.Sky.Nights != 0 || !math.IsNaN(f.Sky.Rate) {
		t.Errorf("elsewhere: %+v", targets)
	}
}

// What was shot last is advised, longer where every night's advice is, and never more
// than twice as long. With 2 e- of read noise 45 s at 1 e-/s are worth 0.94 of what 180 s
// are, 420 s at 0.1 e-/s as much of 1200 s; with gaps of 20 s 180 s are worth 0.93 of 420 s.
func TestExposureGoesByWhatWasShot(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct{ rate, last, gap, want, asked float64 }{
		{1, 60, none, 60, 60}, {1, 30, none, 45, 45}, {1, 10, none, 20, 45}, {0.1, 180, none, 360, 420}, {0.1, none, none, 420, 420},
		{none, 180, none, 180, 180}, {1, none, none, 45, 45}, {1, 60, 20, 120, 180},
	} {
		f := Filter{Sky: Sky{Rate: c.rate}, PixelScale: 1, ReadNoise: 2, LastExposure: c.last, Gap: gap(nil)}
		if c.gap > 0 {
			f.Gap = stats.Known(c.gap, none, 9)
		}
		if got, asked := f.exposure(1, DefaultOptions); got != c.want || asked != c.asked {
			t.Errorf("%g e-/s, %g s last, gaps of %g s: %g s of %g s, want %g of %g", c.rate, c.last, c.gap, got, asked, c.want, c.asked)
		}
	}
}
