package subs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"fitsqa/internal/names"
	"fitsqa/internal/sky"
	"fitsqa/internal/stars"
	"fitsqa/internal/stars/photometry"
	"fitsqa/internal/stars/registration"
	"fitsqa/internal/stats"
)

// begin is when the synthetic nights begin.
var begin = time.Date(2026, 3, 14, 20, 0, 0, 0, time.UTC)

// truth is what a synthetic sub went through; goodSub is one that nothing
// happened to.
type truth struct {
	transparency, uneven, sky, fwhm, ellipticity, angle, coherence, stars, halo float64
}

var goodSub = truth{transparency: 1, uneven: 1, sky: 1, fwhm: 3.4, ellipticity: 0.08, angle: 20, coherence: 0.3, stars: 240}

// makeSub measures one sub of 300 s through filter at the given minute, with
// the scatter that a good night has: 1 % in transparency, 2 % in sky, 4 % in
// FWHM, 3 % in star counts; each is measured to half a percent.
func makeSub(rng *rand.Rand, name string, filter names.Name, minute float64, tr truth) *Sub {
	nan := math.NaN()
	scatter := func(x, rel float64) stats.Value { return stats.Known(x*(1+rel*rng.NormFloat64()), 0.005*x, 100) }
	const dark = 1000.0 // ADU of sky
	skyLevel := scatter(dark*tr.sky, 0.02)
	noise := stats.Known(math.Sqrt(skyLevel.V+25), nan, 1) // 1 e-/ADU, 5 e- read noise
	// Counts fall as the sources' -0.8th power of the flux limit.
	limit := math.Max(1, noise.V/math.Sqrt(dark+25)*tr.fwhm/goodSub.fwhm/tr.transparency)
	f := &stars.Field{
		Width: 1600, Height: 1200, Sky: skyLevel, Noise: noise, GradientPct: stats.Known(3, nan, 1),
		Count: int(tr.stars * math.Pow(limit, -0.8) * (1 + 0.03*rng.NormFloat64())),
		Halo:  stats.Known(tr.halo, 0.008, 30),
		FWHM:  scatter(tr.fwhm, 0.04), HFD: scatter(tr.fwhm*1.1, 0.04),
		Ellipticity: scatter(tr.ellipticity, 0.05), Angle: stats.Known(tr.angle, nan, 100), Coherence: stats.Known(tr.coherence, nan, 100),
	}
	s := &Sub{
		File: name, Target: "M 33", Filter: filter, Camera: "Testcam", Start: begin.Add(time.Duration(minute * float64(time.Minute))),
		Exposure: 300, GainSetting: 100, OffsetSetting: 50, SensorTemp: -10, SetTemp: -10, Binning: 1, Width: 1600, Height: 1200,
		FocusPosition: nan, AmbientTemp: nan, PixelScale: 0.8, ElectronsPerADU: 1, Calibrated: true,
		SkyADU: skyLevel, SkyRate: skyLevel.Scaled(1. / 300), NoiseADU: noise, RandomNoise: noise, Field: f,
		Align:        registration.Alignment{ShiftX: stats.Known(0, nan, 100), ShiftY: stats.Known(0, nan, 100)},
		Transparency: photometry.Transparency{Ratio: scatter(tr.transparency, 0.01), Unevenness: scatter(tr.uneven, 0.1)},
		Sky:          noSite(),
	}
	if f.Count == 0 {
		s.Transparency.Ratio = stats.Missing("no stars")
		s.Transparency.Unevenness = stats.Missing("no stars")
		s.Align.ShiftX, s.Align.ShiftY = stats.Missing("no stars"), stats.Missing("no stars")
		f.FWHM, f.HFD, f.Halo, f.Ellipticity, f.Angle, f.Coherence = stats.Missing("no stars"), stats.Missing("no stars"), stats.Missing("no stars"), stats.Missing("no stars"), stats.Missing("no stars"), stats.Missing("no stars")
	}
	return s
}

func noSite() sky.Conditions {
	m := stats.Missing("site unknown")
	return sky.Conditions{SunAlt: m, MoonAlt: m, MoonLitPct: m, MoonSeparation: m, TargetAlt: m, Airmass: m, HourAngle: m, MoonlightMag: m}
}

// makeNight is n subs through one filter, five minutes apart, with what happens
// to each told by change (nil: nothing).
func makeNight(seed uint64, filter names.Name, n int, change func(i int, tr *truth)) []*Sub {
	rng := rand.New(rand.NewPCG(seed, 5))
	var out []*Sub
	for i := range n {
		tr := goodSub
		if change != nil {
			change(i, &tr)
		}
		out = append(out, makeSub(rng, fmt.Sprintf("%s_%03d.fits", filter, i), filter, 5*float64(i), tr))
	}
	return out
}
