package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/plan"
	"fitsqa/internal/sensor"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// Names and header text that try to break out of a report.
const (
	hostileScript = "</script><script>window.hacked=1</script>.fits"
	hostileQuotes = `a"b'c` + "`" + `&amp;<img src=x onerror=window.hacked=1>.fits`
	hostileRTL    = "\u202egpj.stif\u200f.fits"
	hostileTerm   = "\x1b[31mred\x07\n.fits"
	hostileBytes  = "caf\xe9 \xff.fits"
	hostileCSV    = "=HYPERLINK(\"x\").fits"
)

var (
	hostileLong = func() string {
		name := ""
		for range 25 {
			name += "very_long_"
		}
		return name + ".fits"
	}()
	fakeStart = time.Date(2026, 3, 14, 20, 30, 0, 0, time.UTC)
	nan       = math.NaN()
)

// fakeNight is a Result of n good subs a filter and one sub of every edge
// case, so that the reports can be tested without a pipeline. It is the same
// at every call.
func fakeNight(n int) *night.Result {
	rng := rand.New(rand.NewPCG(1, 2))
	r := &night.Result{
		Roots:    []string{"night"},
		Finished: time.Date(2026, 3, 15, 7, 0, 0, 0, time.UTC),
		Settings: night.DefaultSettings(),
		Plan: &plan.Plan{
			Exposures: []plan.Exposure{{Group: "M 33 Ha 300 s", Target: "M 33", Filter: "Ha", Current: 300, From: 180, To: 480,
				Sky: stats.Known(1.38, 0.01, 6), SkyArcsec: stats.Known(2.3, 0.02, 6), SkyMag: stats.Missing(plan.NoZeroPoint), ReadNoise: stats.Known(1.5, 0.01, 20), ShareNow: stats.Known(0.003, nan, 6),
				Shortest: stats.Known(16, 0.2, 6), Gap: stats.Known(5, 1, 5), Saturating: stats.Missing(plan.FewStars),
				TrailedShare: stats.Missing(plan.TrailingRare), Best: stats.Missing(plan.TrailingRare), ReadNoiseShare: 0.05, SaturatedShare: 0.01}},
			Nights: []plan.Night{{Date: "2026-03-14", Camera: "Invented Mono 2", Start: fakeStart, End: fakeStart.Add(3 * time.Hour),
				DarkHours: stats.Known(8.2, nan, 1), Shot: 3000,
				Pauses: []plan.Pause{{Start: fakeStart.Add(time.Hour), End: fakeStart.Add(70 * time.Minute), Reason: plan.MeridianFlip}},
				Yields: []plan.Yield{{Target: "M 33", Filter: "Ha", Subs: 12, Kept: 5, Doubtful: 1, Culled: 6, Shot: 3600, Usable: 1800, Clear: nan}}}},
			Goals: []plan.Progress{{Goal: plan.Goal{Target: "M 33", Filter: "Ha", Hours: 10}, Tonight: stats.Known(0.64, nan, 1), Earlier: 2,
				NeededTotal: stats.Known(10, nan, 1), StillNeeded: stats.Known(7.4, nan, 1), Nights: stats.Known(11, nan, 1), SNR: stats.Missing(plan.GoalInHours)}},
			Shopping: []plan.Shopping{{Kind: "flat", Filter: "OIII", Frames: 15, Exposure: nan, TempC: nan, GainSetting: 100, OffsetSetting: 50,
				Binning: 1, For: []string{"M 33 OIII 300 s"}, Reason: plan.Reason{Lack: plan.NoneThere}}},
		},
		Warnings: []fact.Fact{fact.Of(night.CulledBefore, fact.Text("folder", "culled")), fact.Of(night.KindGuessed, fact.Count("frames", 3))},
	}
	for i := range n {
		for k, filter := range []names.Name{"Ha", "OIII"} {
			s := fakeSub(rng, fmt.Sprintf("lights/M_33_%s_%04d.fits", filter, i+1), "M 33", filter, 2*i+k)
			s.Stack = k
			spoil(s, rng, i, n)
			r.Subs = append(r.Subs, s)
		}
	}
	r.Subs = append(r.Subs, edgeSubs(rng, 2*n)...)
	for _, s := range r.Subs {
		r.Frames = append(r.Frames, s.Frame)
	}
	r.Frames[0].Findings = []fact.Fact{fact.Of(frames.CardNoNumber, fact.Text("key", "EXPTIME"), fact.Text("value", "300,0,0"))}
	r.OfFiles = []night.OddFiles{{Finding: r.Frames[0].Findings[0], Files: 1, Kind: frames.Light, First: r.Frames[0].Name}}
	r.Verdicts = fakeVerdicts(r.Subs)
	r.Calib = fakeCalib(r)
	r.Worth = fakeWorth()
	r.MasterWorth = []worth.Master{
		{Label: "M 33 Ha 300 s", Kind: "bias", Verdict: worth.Enough, Have: 40, HavePct: stats.Known(0.3, nan, 40),
			Suffices: 20, SufficesPct: 0.6, Most: 1000, MostPct: 0.01, WithoutPct: 0.8, Corner: stats.Missing(worth.FlatsTellIt), Lifted: stats.Missing(worth.FlatsTellIt),
			Cases: []worth.MasterCase{{N: 0, Added: 0.4, Stack: 3.2, IncreasePct: 0.8}, {N: 40, Added: 0.2, Stack: 3.2, IncreasePct: 0.3}}},
		{Label: "M 33 OIII 300 s", Kind: "flat", Lacks: fact.Of(worth.NoFlats), HavePct: stats.Missing(worth.NotWeighed),
			MostPct: nan, WithoutPct: nan, Corner: stats.Missing(worth.NoFlats), Lifted: stats.Missing(worth.NotWeighed)},
	}
	r.Dust = []dust.Match{fakeDust()}
	for _, set := range r.Calib.Sets {
		if set.Label == r.Dust[0].Flat {
			set.NoteDust(r.Dust[0])
		}
	}
	r.Fields = []night.FieldReport{{
		Group: "M 33 Ha 300 s", Map: fakeMap(rng, 3.2),
		Findings: noted(stars.SideSoft, fact.Text("place", string(stars.AtLowerRight)), fact.Number("soft_px", 4.1), fact.Number("sharp_px", 3.2), fact.Number("less_px", 0.9), fact.Number("less_px_err", 0.1)),
	}, {Group: "M 33 OIII 300 s", Notes: noted(stars.NoMap, fact.Count("stars", 11), fact.Count("needed", 24))}}
	r.Motions = []night.MotionReport{{
		Target: "M 33", Camera: "Invented Mono 2",
		Motion:     registration.Motion{Dither: stats.Known(0.61, 0.04, 24), Drift: stats.Known(6.2, 0.3, 24), Rotation: stats.Known(-0.06, 0.002, 24)},
		PolarError: stats.Known(11.8, 0.4, 24), CornerTrail: stats.Known(0.09, 0.003, 24),
		Jumped: []string{"lights/M_33_Ha_0003.fits"}, Findings: []fact.Fact{
			fact.Of(night.PolarAxisFarOff, fact.Number("turn_deg_per_h", 0.06), fact.Number("turn_deg_per_h_err", 0.002), fact.Number("polar_arcmin", 11.8),
				fact.Text("trail", string(night.CornerHardly)), fact.Number("trail_px", 0.09), fact.Number("exposure_s", 300)),
			fact.Of(night.PointingJumped, fact.Text("files", "lights/M_33_Ha_0003.fits"), fact.Count("more", 0)),
		},
	}, {
		Target: "<b>M 31</b>\x1b[2J", Motion: registration.Motion{Dither: stats.Missing(stars.FewPairsOfSubs), Drift: stats.Missing(stars.FewPairsOfSubs), Rotation: stats.Missing(stars.FewPairsOfSubs)},
		PolarError: stats.Missing(stars.FewPairsOfSubs), CornerTrail: stats.Missing(stars.FewPairsOfSubs),
		Lost: []string{hostileQuotes}, Findings: noted(night.FieldsForeign, fact.Text("files", hostileQuotes), fact.Count("more", 0)),
	}}
	r.Extinctions = []night.ExtinctionReport{
		{Target: "M 33", Filter: "Ha", Camera: "Invented Mono 2", Night: "2026-03-14",
			Extinction: photometry.Extinction{K: stats.Known(0.142, 0.011, 11), From: 1.06, To: 1.52}},
		{Target: "M 33", Filter: "OIII", Camera: "Invented Mono 2", Night: "2026-03-14",
			Extinction: photometry.Extinction{K: stats.Missing(stars.FewClear, fact.Count("subs", 3), fact.Count("needed", 8)), From: nan, To: nan}},
	}
	r.Twilight = []sky.Span{{Start: fakeStart, End: fakeStart.Add(20 * time.Minute)}}
	r.MoonUp = []sky.Span{{Start: fakeStart.Add(75 * time.Minute), End: fakeStart.Add(3 * time.Hour)}}
	return r
}

// fakeSub is a good sub with every figure.
func fakeSub(rng *rand.Rand, name string, target, filter names.Name, order int) *night.Sub {
	meta := frames.NoMeta()
	start := fakeStart.Add(time.Duration(order) * 305 * time.Second)
	meta.Exposure, meta.Start, meta.Filter, meta.Target = 300, start, filter, target
	f := &frames.Frame{
		Path: "night/" + name, Name: name, Size: 3847680, ModTime: start.Add(301*time.Second + 123456789),
		Image: frames.Layout{Width: 1600, Height: 1200, Planes: 1, Bitpix: 16},
		Meta:  meta, Kind: frames.Light, KindSource: frames.KindFromHeader,
	}
	jitter := func(scale float64) float64 { return scale * rng.NormFloat64() }
	hour := float64(order) * 305 / 3600
	field := &stars.Field{
		Width: 1600, Height: 1200,
		Count: 420 + rng.IntN(40), Saturated: rng.IntN(4),
		FWHM:        stats.Known(3.2+0.05*hour+jitter(0.08), 0.03, 210),
		HFD:         stats.Known(3.5+0.05*hour+jitter(0.08), 0.03, 260),
		Halo:        stats.Known(0.004, 0.006, 45),
		Ellipticity: stats.Known(0.08+math.Abs(jitter(0.01)), 0.004, 210),
		Angle:       stats.Known(31+jitter(10), 3, 210),
		Coherence:   stats.Known(0.3+jitter(0.05), 0.05, 210),
		GradientPct: stats.Known(4+jitter(0.5), 0.2, 100),
		Map:         fakeMap(rng, 3.2),
	}
	s := &night.Sub{Frame: f, Sub: &subs.Sub{
		File: name, Target: target, Filter: filter, Camera: "Invented Mono 2", Start: start,
		Exposure: 300, GainSetting: 100, OffsetSetting: 50, SensorTemp: -9.9, SetTemp: -10,
		Binning: 1, Width: 1600, Height: 1200, PierSide: "east", FocusPosition: 21040, AmbientTemp: 4.5,
		PixelScale: 0.776, ElectronsPerADU: 1.01, Calibrated: true,
		SkyADU:   stats.Known(410+jitter(6), 0.2, 400),
		SkyRate:  stats.Known(1.38+jitter(0.02), 0.001, 400),
		NoiseADU: stats.Known(20.4+jitter(0.1), 0.05, 400), RandomNoise: stats.Known(20.1, 0.05, 40000),
		Field: field,
		Align: registration.Alignment{
			Transform: registration.Transform{A: 1, E: 1, C: 2.5, F: -1.25},
			ShiftX:    stats.Known(jitter(8), 0.02, 200), ShiftY: stats.Known(jitter(8), 0.02, 200),
			RotationDeg: stats.Known(jitter(0.02), 0.002, 200), Scale: 1, Pairs: [][2]int{{0, 0}, {1, 1}},
		},
		Transparency: photometry.Transparency{
			Ratio: stats.Known(0.98+jitter(0.01), 0.004, 190), Unevenness: stats.Known(0.4, 0.1, 190),
		},
		Sky: sky.Conditions{
			SunAlt: stats.Known(-19-3*hour, nan, 1), MoonAlt: stats.Known(-5+4*hour, nan, 1),
			MoonLitPct: stats.Known(22, nan, 1), MoonSeparation: stats.Known(71, nan, 1),
			TargetAlt: stats.Known(70-5*hour, nan, 1), Airmass: stats.Known(1.06+0.05*hour, nan, 1),
			HourAngle: stats.Known(8+15*hour, nan, 1), MoonlightMag: stats.Known(-0.05, nan, 1),
		},
		Weight: stats.Known(0.95+jitter(0.02), 0.01, 1), WeightDetail: stats.Known(0.81, 0.01, 1),
		Verdict: subs.Keep, Group: string(target + " " + filter + " 300 s"),
	}}
	s.ZeroPoint, s.SkyMag, s.LimitingMag = stats.Known(21.4, 0.02, 60), stats.Known(19.32, 0.02, 60), stats.Known(17.8, 0.02, 60)
	alone := stats.Missing(night.NoOtherNight)
	s.SeasonTransparency, s.SeasonFWHM, s.SeasonalWeight = alone, alone, alone
	s.Plate.Why = fact.Of(night.NotLookedFor)
	if order < manyPictures {
		s.SetPreview(fakePreview(rng, false))
		fakeStrip(rng, s, false)
	} else {
		like := laterSub()
		s.SetPreview(like.Preview())
		field.Stars = like.Field.Stars
	}
	if order%9 == 0 {
		field.Notes = noted(stars.PointsLeft, fact.Count("points", 20+order))
	}
	return s
}

// manyPictures are drawn one by one; those of more subs look like each other, which
// neither sizes nor times of a page depend on.
const manyPictures = 64

var later struct {
	sync.Once
	sub *night.Sub
}

func laterSub() *night.Sub {
	later.Do(func() { later.sub = fakeSub(rand.New(rand.NewPCG(1, 3)), "lights/later.fits", "M 33", "Ha", 0) })
	return later.sub
}

// spoil clouds the middle of the night and trails a few subs after it.
func spoil(s *night.Sub, rng *rand.Rand, i, n int) {
	switch {
	case i >= n/2 && i < n/2+max(1, n/8):
		s.Transparency.Ratio = stats.Known(0.42+0.05*rng.Float64(), 0.01, 90)
		s.SkyRate = stats.Known(2.9, 0.01, 400)
		s.Weight = stats.Known(0.12, 0.01, 1)
		s.WeightDetail = stats.Known(0.1, 0.01, 1)
		s.Field.Count = 120
		blame(s, subs.Cloud, subs.Cull, fact.Of(subs.Transparent, fact.Number("transparency", 0.44)),
			fact.Of(subs.SkyLit, fact.Number("times", 2.1), fact.Text("whose", "filter")), fact.Of(subs.CrossedLimit, fact.Number("limit", 0.6)))
	case i == n/2+max(1, n/8):
		s.Field.Ellipticity, s.Field.Coherence = stats.Known(0.46, 0.01, 200), stats.Known(0.97, 0.01, 200)
		blame(s, subs.Trailed, subs.Cull, fact.Of(subs.Elongation, fact.Number("ellipticity", 0.46), fact.Number("angle_deg", 31), fact.Number("coherence", 0.97)),
			fact.Of(subs.EllipticityLimit, fact.Number("limit", 0.25)))
		s.SetPreview(fakePreview(rng, true))
		fakeStrip(rng, s, true)
	case i == n-1:
		s.Field.FWHM = stats.Known(4.4, 0.05, 180)
		s.SkyADU = stats.Known(6104, 1, 400) // so much brighter that the timeline's sky is logarithmic
		blame(s, subs.Soft, subs.Doubtful, fact.Of(subs.Width, fact.Number("fwhm_px", 4.4), fact.Number("times", 1.36), fact.Text("whose", "filter"), fact.Number("baseline_px", 3.24)),
			fact.Of(subs.CrossedLimit, fact.Number("limit", 1.3)))
	}
}

// blame judges a sub by one finding.
func blame(s *night.Sub, c subs.Cause, v subs.Verdict, facts ...fact.Fact) {
	s.Verdict, s.Causes, s.Findings = v, []subs.Cause{c}, []subs.Finding{{Cause: c, Verdict: v, Severity: 2.5, Facts: facts}}
}

// edgeSubs is one sub of every edge case, in a group of its own.
func edgeSubs(rng *rand.Rand, order int) []*night.Sub {
	unreadable := func(name, why string, truncated bool) *night.Sub {
		s := fakeSub(rng, name, "M 33", "Ha", order)
		s.Field, s.ReadErr, s.TruncatedFile = nil, why, truncated
		s.SetPreview(nil)
		s.Frame.Err = fmt.Errorf("%s", why)
		blame(s, subs.Unreadable, subs.Cull, fact.Of(subs.ReadFailed, fact.Text("error", why)))
		s.Weight, s.WeightDetail = stats.Missing(night.ReadFailed, fact.Text("error", why)), stats.Missing(night.ReadFailed, fact.Text("error", why))
		return s
	}
	var list []*night.Sub
	for i, name := range []string{hostileScript, hostileQuotes, hostileRTL, hostileTerm, hostileBytes, hostileCSV, hostileLong} {
		s := fakeSub(rng, name, "<b>M 31</b>\x1b[2J", "L\"'", order+i)
		s.Group = string(s.Target + " " + s.Filter + " 300 s")
		list = append(list, s)
	}
	blank := fakeSub(rng, "lights/no_stars.fits", "M 33", "Ha", order)
	blank.Field = &stars.Field{
		Width: 1600, Height: 1200, FWHM: stats.Missing(stars.NoStandOut), HFD: stats.Missing(stars.NoStandOut), Halo: stats.Missing(stars.NoStandOut),
		Ellipticity: stats.Missing(stars.NoStandOut), Angle: stats.Missing(stars.NoStandOut), Coherence: stats.Missing(stars.NoStandOut),
		GradientPct: stats.Known(1, nan, 100), Notes: noted(stars.HotTakenOff, fact.Count("points", 3)),
	}
	blank.Align = registration.Alignment{ShiftX: stats.Missing(stars.FewToMatch, fact.Count("stars", 0)), ShiftY: stats.Missing(stars.FewToMatch, fact.Count("stars", 0)),
		RotationDeg: stats.Missing(stars.FewToMatch, fact.Count("stars", 0))}
	blank.Transparency = photometry.Transparency{Ratio: stats.Missing(stars.FewToMatch, fact.Count("stars", 0)), Unevenness: stats.Missing(stars.FewToMatch, fact.Count("stars", 0))}
	blank.Weight = stats.Missing(subs.TransparencyUnknown, fact.Reason(fact.Of(stars.FewToMatch, fact.Count("stars", 0))))
	blank.WeightDetail = blank.Weight
	blame(blank, subs.NoStars, subs.Cull, fact.Of(subs.NoneSeen), fact.Of(subs.OthersHave, fact.Text("whose", "filter"), fact.Number("stars", 437)))

	silent := fakeSub(rng, "lights/silent_header.fits", "", "", order) // a header that tells nothing
	silent.Start, silent.Exposure, silent.GainSetting, silent.SensorTemp = time.Time{}, nan, nan, nan
	silent.PixelScale, silent.ElectronsPerADU, silent.SkyRate = nan, nan, stats.Missing(night.GainUnknown, fact.Reason(fact.Of(sensor.NoFlatsNoHeader)))
	site := stats.Missing(sky.SiteUnknown)
	silent.Sky = sky.Conditions{SunAlt: site, MoonAlt: site, MoonLitPct: site, MoonSeparation: site,
		TargetAlt: site, Airmass: site, HourAngle: site, MoonlightMag: site}
	silent.Group, silent.UserDecision, silent.Decision = "unknown", true, subs.Keep

	twin := fakeSub(rng, "lights/copy of M_33_Ha_0001.fits", "M 33", "Ha", order)
	twin.DuplicateOf = "lights/M_33_Ha_0001.fits"
	blame(twin, subs.Duplicate, subs.Cull, fact.Of(subs.SamePixels, fact.Text("file", "lights/M_33_Ha_0001.fits")))

	short := unreadable("lights/cut_short.fits", "1234567 of 3847680 bytes arrived (32 %)", true)
	short.Causes = []subs.Cause{subs.Truncated}
	return append(list, blank, silent, twin, short,
		unreadable("lights/garbage.fits", "malformed: no SIMPLE card", false))
}

func fakeVerdicts(all []*night.Sub) *subs.Result {
	res := &subs.Result{}
	byLabel := map[string]*subs.Group{}
	for _, s := range all {
		s.Measured = s.Verdict
		g := byLabel[s.Group]
		if g == nil {
			g = &subs.Group{Season: subs.NoSeason(night.NoOtherNight), Label: s.Group, Target: s.Target, Filter: s.Filter, Exposure: s.Exposure,
				LostSeconds: map[subs.Cause]float64{}}
			byLabel[s.Group] = g
			res.Groups = append(res.Groups, g)
		}
		g.Subs = append(g.Subs, s.Sub)
		if math.IsNaN(s.Exposure) {
			g.Notes = []fact.Fact{fact.Of(subs.NoWeights)}
			g.ShotSeconds, g.UsableSeconds, g.EquivalentClearSeconds = nan, nan, nan
			continue
		}
		g.ShotSeconds += s.Exposure
		if s.Weight.OK() {
			g.EquivalentClearSeconds += s.Exposure * s.Weight.V
		}
		if s.Verdict == subs.Cull {
			g.LostSeconds[s.Causes[0]] += s.Exposure
		} else {
			g.UsableSeconds += s.Exposure
		}
	}
	for _, g := range res.Groups {
		n := len(g.Subs)
		for k := range n {
			kept := float64(n - k)
			g.Economics.Plain = append(g.Economics.Plain, math.Sqrt(kept/float64(n))*(1+0.3*math.Min(1, float64(k)/float64(max(n/4, 1)))))
			g.Economics.Weighted = append(g.Economics.Weighted, 1.25*math.Sqrt(math.Min(1, 1.15*kept/float64(n))))
		}
		for k := range n {
			g.Economics.Scaled = append(g.Economics.Scaled, 1.1*g.Economics.Plain[k])
			g.Economics.FWHM = append(g.Economics.FWHM, 3.4-0.6*float64(k)/float64(n))
			g.Economics.Ellipticity = append(g.Economics.Ellipticity, 0.09-0.04*float64(k)/float64(n))
		}
		g.Economics.Marks = []subs.Mark{{Aim: subs.Depth, Drop: n / 5}, {Aim: subs.Balance, Drop: n / 4}, {Aim: subs.Detail, Drop: n / 2}}
		g.Economics.UserScaled, g.Economics.UserFWHM, g.Economics.UserEllipticity = g.Economics.Scaled[n/5]-0.02, 3.2, 0.07
		g.Economics.Stacked, g.Economics.BestDrop, g.Economics.UserDrop = n, n/4, n/5
		g.Economics.UserPlain, g.Economics.UserWeighted = g.Economics.Plain[n/5]-0.02, g.Economics.Weighted[n/5]-0.02
		g.Economics.UserClearSeconds = 40 * float64(n/5)
		g.Economics.PixelScale, g.Economics.HalfTransparency, g.Economics.HalfWeight = 0.8, 0.5, 0.25
	}
	at := fakeStart.Add(104 * time.Minute)
	res.FocusDrifts = []subs.FocusDrift{{Camera: "Testcam", Since: fakeStart, SinceErr: 6 * time.Minute, Until: fakeStart.Add(90 * time.Minute), Subs: 12, Filters: []names.Name{"Ha", "OIII"},
		BlurPerHour: stats.Known(1.8, 0.2, 14), Widened: 1.31, RefocusMinutes: stats.Known(41, 4, 14), RefocusDegrees: stats.Known(0.7, 0.1, 14)}}
	res.FocusLaws = []subs.FocusLaw{{Camera: "Testcam", Runs: 6, StepsPerDegree: stats.Known(18.2, 1.1, 6), Offsets: []subs.FilterOffset{{Filter: "OIII", Steps: stats.Known(-25, 3, 6)}}}}
	res.Events = []subs.Event{{Cause: subs.Cloud, Start: at, End: at.Add(37 * time.Minute), Subs: 14}}
	return res
}

func fakeMap(rng *rand.Rand, fwhm float64) stars.Map {
	m := stars.Map{Cols: 3, Rows: 3}
	for row := range 3 {
		for col := range 3 {
			soft := 0.4 * float64(col*(2-row)) / 4
			m.Cells = append(m.Cells, stars.Cell{X: 266 + 533*float64(col), Y: 200 + 400*float64(row), Stars: 20 + rng.IntN(20),
				FWHM: fwhm + soft, Ellipticity: 0.06 + 0.05*soft, Angle: 20 + 40*soft})
		}
	}
	m.Cells[0].Stars, m.Cells[0].FWHM, m.Cells[0].Ellipticity, m.Cells[0].Angle = 2, nan, nan, nan
	return m
}

// fakePreview is a star field of 400 x 300 averaged pixels, trailed or not.
func fakePreview(rng *rand.Rand, trailed bool) *frames.Preview {
	p := &frames.Preview{Width: 400, Height: 300, Step: 4, Pixels: make([]float32, 400*300)}
	for i := range p.Pixels {
		p.Pixels[i] = float32(410 + 5*rng.NormFloat64())
	}
	for range 120 {
		x, y, flux := rng.IntN(390)+5, rng.IntN(290)+5, 40*math.Pow(rng.Float64(), -1)
		length := 1
		if trailed {
			length = 5
		}
		for k := range length {
			p.Pixels[y*400+min(399, x+k)] += float32(flux)
		}
	}
	p.Pixels[7] = float32(nan)
	return p
}

// fakeStrip gives a sub bright stars and the pieces around them.
func fakeStrip(rng *rand.Rand, s *night.Sub, trailed bool) {
	s.Field.Stars = nil
	for k := range 18 {
		x, y := 100+80*k, 60+55*k
		c := frames.Crop{X: x - 16, Y: y - 16, Width: 32, Height: 32, Pixels: make([]float32, 32*32)}
		for i := range c.Pixels {
			dx, dy := float64(i%32-16), float64(i/32-16)
			if trailed {
				dx = math.Max(0, math.Abs(dx)-6)
			}
			c.Pixels[i] = float32(20*rng.NormFloat64() + 3000*math.Exp(-(dx*dx+dy*dy)/5))
		}
		p := s.Preview()
		p.Crops = append(p.Crops, c)
		s.Field.Stars = append(s.Field.Stars, stars.Star{X: float64(x), Y: float64(y), Flux: float64(9000 - k)})
	}
}
