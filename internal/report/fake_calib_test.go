package report

import (
	"fmt"
	"math"
	"math/rand/v2"

	"fitsqa/internal/calib"
	"fitsqa/internal/dust"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/names"
	"fitsqa/internal/night"
	"fitsqa/internal/sensor"
	"fitsqa/internal/stack"
	"fitsqa/internal/stats"
	"fitsqa/internal/worth"
)

// addDetails gives every set what its figures are drawn from.
func addDetails(res *calib.Result) {
	rng := rand.New(rand.NewPCG(3, 4))
	levels := func(n int, level float64) []stack.FrameLevel {
		out := make([]stack.FrameLevel, n)
		for i := range out {
			out[i] = stack.FrameLevel{Name: "frame", Level: level + 0.02*rng.NormFloat64()}
		}
		out[0].Level, out[0].Outlier = level+4, true
		return out
	}
	counts := func(sd, unit float64) sensor.Counts {
		h := stats.NewHistogram(-200, 200)
		for range 20000 {
			h.Add(int(math.Round(sd * rng.NormFloat64())))
		}
		return sensor.Counts{Histogram: h, Unit: unit}
	}
	coarse := func(w, h int) stats.Map {
		m := stats.Map{Width: w, Height: h, Step: 100}
		for i := range w * h {
			m.Values = append(m.Values, 1-0.01*float64(i%w))
		}
		m.Values[1] = nan
		return m
	}
	small := &frames.Preview{Width: 40, Height: 30, Step: 40, Pixels: make([]float32, 1200)}
	for i := range small.Pixels {
		small.Pixels[i] = float32(500 + rng.NormFloat64())
	}
	for _, s := range res.Sets {
		switch s.Kind {
		case "bias":
			b := s.Bias
			b.Frames, b.Diff, b.PixelNoise, b.Master = levels(40, 500), counts(2.1, 1), counts(20, 0.1), small
			b.Masters = []sensor.MasterNoise{{N: 10, ADU: 0.5, Electron: 0.5}, {N: 100, ADU: 0.16, Electron: 0.16}}
		case "dark":
			d := s.Dark
			d.Frames, d.Rates, d.Threshold, d.Glow, d.Master = levels(20, 501), counts(10, 0.001), 0.03, coarse(16, 12), small
		case "flat":
			s.Flat.Frames, s.Flat.Illumination, s.Flat.Master = levels(12, 30000), coarse(40, 30), small
		case "camera":
			fakeCamera(s.Summary)
		}
	}
}

type fakeFigure struct {
	name  string
	value stats.Value
	note  []fact.Fact
}

func noted(code fact.Code, values ...fact.Value) []fact.Fact {
	return []fact.Fact{fact.Of(code, values...)}
}

// fakeSet is a set of which some figures are measured.
func fakeSet(label, kind string, group *frames.Group, figures []fakeFigure, warnings ...fact.Fact) *sensor.Set {
	s := sensor.NewSet(kind, stats.NotMeasured)
	s.Label, s.Camera, s.Group, s.Warnings, s.Measured = label, "Invented Mono 2", group, warnings, true
	for _, f := range figures {
		*s.Figure(f.name) = sensor.Figure{Value: f.value, Note: f.note}
	}
	return s
}

// fakeCamera is a camera of 1 e-/ADU whose dark current doubles every 6 °C.
func fakeCamera(c *sensor.Camera) {
	for i := range 8 {
		x := 5000 * float64(i+1)
		c.Transfer = append(c.Transfer, sensor.TransferPoint{Set: "flat", Signal: x, Variance: x + 20, Residual: 20, Fitted: i < 6})
		c.Linearity = append(c.Linearity, sensor.LinearityPoint{Filter: "Ha", Exposure: float64(i), Signal: x, DeviationPct: 0.1 * float64(i%3)})
	}
	c.TransferFit = stats.Line{A: 0, B: 1, N: 6}
	c.Series = []sensor.ExposureSeries{{TempC: -10, Fit: stats.Line{B: 0.002, N: 3}, Finding: fact.Of(sensor.DarksStraight, fact.Number("adu_per_s", 0.002), fact.Count("exposures", 3), fact.Number("zero_adu", 0)),
		Points: []sensor.ExposurePoint{{Exposure: 60, Level: 0.12}, {Exposure: 180, Level: 0.36}, {Exposure: 300, Level: 0.6}}}}
	law := sensor.TemperatureLaw{MidC: 0, Electrons: true, DoublingC: stats.Known(6, 0.1, 3), Basis: fact.Of(sensor.LawBasis, fact.Number("mid_c", 0), fact.Count("temperatures", 3))}
	for _, t := range []float64{-10, 0, 10} {
		law.Points = append(law.Points, sensor.TemperaturePoint{TempC: t, Rate: 0.01 * math.Exp2(t/6)})
	}
	law.Fit = stats.Line{A: math.Log(0.01), B: -0.74, N: 3}
	c.Temperature = law
}

func fakeCalib(r *night.Result) *calib.Result {
	group := func(kind frames.Kind, n int, exposure float64, filter names.Name) *frames.Group {
		g := &frames.Group{Kind: kind, Camera: "Invented Mono 2", Width: 1600, Height: 1200, BinX: 1, BinY: 1,
			GainSetting: 100, OffsetSetting: 50, SetTemp: -10, Exposure: exposure, Filter: filter}
		for i := range n {
			f := &frames.Frame{Path: fmt.Sprintf("night/%s/%s%s_%03d.fits", kind, kind, filter, i), Size: 3847680,
				ModTime: fakeStart, Kind: kind, KindSource: frames.KindFromHeader, Meta: frames.NoMeta(),
				Image: frames.Layout{Width: 1600, Height: 1200, Planes: 1, Bitpix: 16}}
			f.Name = f.Path[len("night/"):]
			g.Frames = append(g.Frames, f)
			r.Frames = append(r.Frames, f)
		}
		return g
	}
	bias, dark, flat := group(frames.Bias, 40, 0, ""), group(frames.Dark, 20, 300, ""), group(frames.Flat, 12, 2.5, "Ha")
	warm := group(frames.Dark, 10, 300, "warm")
	warm.SetTemp, warm.Filter = 0, ""
	res := &calib.Result{Sets: []*sensor.Set{
		fakeSet("bias -10 °C gain 100", "bias", bias, []fakeFigure{
			{"offset_adu", stats.Known(500.02, 0.004, 40), nil},
			{"read_noise_adu", stats.Known(1.48, 0.0007, 39), noted(sensor.WithSteps, fact.Number("adu", 1.5))},
			{"read_noise_e", stats.Known(1.5, 0.01, 39), noted(sensor.GainMeasured, fact.Number("e_per_adu", 1.012))},
			{"clipped_fraction", stats.Known(0, nan, 40), nil},
			{"outlier_frames", stats.Known(1, nan, 40), noted(sensor.OutlierFrame, fact.Text("file", "bias/bias_000.fits"), fact.Number("off_adu", 4))},
		}),
		fakeSet("dark 300 s -10 °C gain 100", "dark", dark, []fakeFigure{
			{"dark_current_e_per_s", stats.Known(0.00213, 0.00004, 20), nil},
			{"hot_pixels", stats.Known(213, nan, 20), nil},
			{"glow_e", stats.Missing(sensor.NoGlow, fact.Number("at_most_adu", 0.1)), nil},
			{"temperature_rms_c", stats.Missing(sensor.TempsOfTwo), nil},
		}, fact.Of(sensor.DarkDrift, fact.Number("uneven_pct", 63), fact.Number("drift_adu", 0.4))),
		fakeSet("dark 300 s 0 °C gain 100", "dark", warm, []fakeFigure{
			{"hot_pixels", stats.Known(841, nan, 10), nil}}),
		fakeSet("flat Ha gain 100", "flat", flat, []fakeFigure{
			{"level_fraction", stats.Known(0.481, 0.001, 12), nil},
			{"gain_e_per_adu", stats.Known(1.012, 0.006, 12), nil},
			{"dust_shadows", stats.Known(7, nan, 12), nil},
		}),
		fakeSet("camera Invented Mono 2", "camera", nil, []fakeFigure{
			{"gain_e_per_adu", stats.Known(1.011, 0.004, 24), noted(sensor.GainAgainst, fact.Number("measured", 1.011), fact.Number("header", 1))},
			{"full_well_e", stats.Known(50213, 400, 12), nil},
			{"dark_doubling_c", stats.Missing(sensor.LawNeeds, fact.Number("apart_c", 5)), nil},
		}),
	}}
	lights := &frames.Group{Kind: frames.Light, Camera: "Invented Mono 2", Width: 1600, Height: 1200, BinX: 1, BinY: 1,
		GainSetting: 100, OffsetSetting: 50, SetTemp: -10, Exposure: 300, Filter: "OIII", Target: "M 33"}
	res.Coverage = []calib.Coverage{{Lights: lights,
		Bias: calib.Match{Group: bias, Fit: calib.Fit{Kind: frames.Bias, Frames: 40, Fits: true}},
		Dark: calib.Match{Group: dark, Fit: calib.Fit{Kind: frames.Dark, Frames: 20, Fits: true}},
		Flat: calib.Match{Group: flat, Fit: calib.Fit{Kind: frames.Flat, Frames: 12, Mismatches: []calib.Mismatch{{Property: calib.OfFilter, Frames: "Ha", Subs: "OIII", By: nan, Limit: nan}}}}}}
	addDetails(res)
	return res
}

func fakeWorth() []worth.Answer {
	budget := func(m int, dithered bool, pattern, master, hot float64) worth.Case {
		by := worth.ByDarks
		if m == 0 {
			by, m = worth.ByBias, 40
		}
		return worth.Case{Correction: by, Frames: m, Dithered: dithered, Sky: 3.2, DarkShot: 0.13, Read: 0.24,
			FixedPattern: pattern, Master: master, Total: math.Sqrt(3.2*3.2 + 0.13*0.13 + 0.24*0.24 + pattern*pattern + master*master), HotMean: 12 * hot, HotScatter: hot}
	}
	return []worth.Answer{
		{Label: "M 33 Ha 300 s", Without: worth.Case{HotScatter: 213}, DoubtE: nan, MoreBiasPct: 0.1, MoreBias: 200,
			BenefitPct: stats.Known(0.2, 0.05, 20), Reason: worth.HotPixels, Weighed: 20, AtHandPct: stats.Missing(worth.NoneThere), GlowPct: stats.Missing(worth.NoSetGlows),
			Gains: []worth.Gain{{Exposure: 300, BenefitPct: stats.Known(0.2, 0.05, 20)}, {Exposure: 600, BenefitPct: stats.Known(0.4, 0.05, 10)}}, CostHours: 1.67,
			Library: &worth.Library{Verdict: worth.StillValid,
				Date: "2025-03-01", Known: 420, Gone: 3, New: 5, Level: stats.Known(1.01, 0.01, 417), Changed: stats.Known(0.05, 0.02, 20), Pattern: 0.3},
			Cases: []worth.Case{budget(0, false, 0.3, 0, 213), budget(0, true, 0.05, 0, 3),
				budget(20, false, 0.02, 0.1, 12), budget(20, true, 0.01, 0.1, 0), budget(50, true, 0.01, 0.06, 0)}},
		{Label: "M 33 OIII 300 s", Lacks: fact.Of(worth.NoDarks), DoubtE: nan, MoreBiasPct: nan,
			BenefitPct: stats.Missing(worth.NotWeighed), AtHandPct: stats.Missing(worth.NotWeighed), GlowPct: stats.Missing(worth.NotWeighed)},
	}
}

// fakeDust is two shadows that moved, and one that stars hide.
func fakeDust() dust.Match {
	moved := func(x, y float64) dust.ShadowMatch {
		return dust.ShadowMatch{Shadow: dust.Shadow{X: x, Y: y, Diameter: 64, DepthPct: 3}, State: dust.ShadowMoved,
			Imprint: stats.Known(0.9, 0.02, 12), ResiduePct: stats.Known(4.1, 0.06, 12), MovedX: 15.2, MovedY: -4.1}
	}
	hidden := dust.ShadowMatch{Shadow: dust.Shadow{X: 40, Y: 900, Diameter: 64, DepthPct: 2}, State: dust.ShadowUnknown,
		Why: fact.Of(dust.ShadowCovered), MovedX: nan, MovedY: nan}
	hidden.Imprint, hidden.ResiduePct = stats.Because(hidden.Why), stats.Because(hidden.Why)
	return dust.Match{
		Lights: "light M 33 Ha 300 s gain 100", Flat: "flat Ha gain 100", Filter: "Ha", Subs: 12,
		Shadows: []dust.ShadowMatch{moved(300, 200), moved(1200, 800), hidden}, Told: 2, Wrong: 2,
		New:      []dust.Shadow{{X: 700, Y: 500, Diameter: 50, DepthPct: 1.5}},
		WorstPct: stats.Known(4.1, nan, 12), ShiftX: stats.Known(15.2, 0.3, 2), ShiftY: stats.Known(-4.1, 0.3, 2),
		RotationDeg: stats.Known(0, 0.05, 2), DiameterRatio: stats.Known(1.01, 0.02, 2),
		Found: fact.Of(dust.Off, fact.Text("clauses", string(dust.ShadowsOff)), fact.Text("lights", "M 33 Ha 300 s gain 100"), fact.Count("wrong", 2), fact.Count("told", 2),
			fact.Number("x", 300), fact.Number("y", 200)),
	}
}
