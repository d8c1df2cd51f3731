package report

import (
	"math"
	"math/rand/v2"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// addDetails gives every set what its figures are drawn from.
func addDetails(res *calib.Result) {
	rng := rand.New(rand.NewPCG(3, 4))
	levels := func(n int, level float64) []calib.FrameLevel {
		out := make([]calib.FrameLevel, n)
		for i := range out {
			out[i] = calib.FrameLevel{Name: "frame", Level: level + 0.02*rng.NormFloat64()}
		}
		out[0].Level, out[0].Outlier = level+4, true
		return out
	}
	counts := func(sd, unit float64) calib.Counts {
		h := stats.NewHistogram(-200, 200)
		for range 20000 {
			h.Add(int(math.Round(sd * rng.NormFloat64())))
		}
		return calib.Counts{Histogram: h, Unit: unit}
	}
	coarse := func(w, h int) calib.Map {
		m := calib.Map{Width: w, Height: h, Step: 100}
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
			s.Bias = &calib.BiasDetail{Frames: levels(40, 500), Diff: counts(2.1, 1), PixelNoise: counts(20, 0.1), Master: small,
				MasterNoise: []calib.MasterNoise{{N: 10, ADU: 0.5, Electron: 0.5}, {N: 100, ADU: 0.16, Electron: 0.16}}}
		case "dark":
			s.Dark = &calib.DarkDetail{Frames: levels(20, 501), Rates: counts(10, 0.001), Threshold: 0.03, Glow: coarse(16, 12), Master: small}
		case "flat":
			s.Flat = &calib.FlatDetail{Frames: levels(12, 30000), Illumination: coarse(40, 30), Master: small}
		case "camera":
			s.Summary = fakeCamera()
		}
	}
}

// fakeCamera is a camera of 1 e-/ADU whose dark current doubles every 6 °C.
func fakeCamera() *calib.CameraDetail {
	c := &calib.CameraDetail{GainUsed: stats.Known(1, 0.01, 10)}
	for i := range 8 {
		x := 5000 * float64(i+1)
		c.Transfer = append(c.Transfer, calib.TransferPoint{Set: "flat", Signal: x, Variance: x + 20, Residual: 20, Fitted: i < 6})
		c.Linearity = append(c.Linearity, calib.LinearityPoint{Filter: "Ha", Exposure: float64(i), Signal: x, DeviationPct: 0.1 * float64(i%3)})
	}
	c.TransferFit = stats.Line{A: 0, B: 1, N: 6}
	c.Series = []calib.ExposureSeries{{TempC: -10, Fit: stats.Line{B: 0.002, N: 3}, Words: "straight",
		Points: []calib.ExposurePoint{{Exposure: 60, Level: 0.12}, {Exposure: 180, Level: 0.36}, {Exposure: 300, Level: 0.6}}}}
	law := calib.TemperatureLaw{MidC: 0, Electrons: true, DoublingC: stats.Known(6, 0.1, 3), Words: "from 3 temperatures"}
	for _, t := range []float64{-10, 0, 10} {
		law.Points = append(law.Points, calib.TemperaturePoint{TempC: t, Rate: 0.01 * math.Exp2(t/6)})
	}
	law.Fit = stats.Line{A: math.Log(0.01), B: -0.74, N: 3}
	c.Temperature = law
	return c
}
