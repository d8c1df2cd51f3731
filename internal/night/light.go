package night

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/plate"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// measureLight gives a sub its zero point and what follows from it.
func (s *Sub) measureLight() {
	alone := stats.Missing(NoOtherNight)
	s.SeasonTransparency, s.SeasonFWHM, s.SeasonalWeight = alone, alone, alone
	why := s.Plate.Why
	if s.Field == nil {
		why = fact.Of(SubUnmeasured)
	}
	if s.Plate.Solution == nil {
		if why.Code == "" {
			why = fact.Of(NotLookedFor)
		}
		missing := stats.Because(why)
		s.ZeroPoint, s.SkyMag, s.LimitingMag = missing, missing, missing
		return
	}
	rate := s.lightRate()
	s.ZeroPoint = s.Plate.ZeroPoint(s.Field, rate)
	s.SkyMag = stats.Missing(stats.NotMeasured)
	s.LimitingMag = plate.Limiting(s.ZeroPoint, s.RandomNoise.V*rate, s.Field.FWHM.V)
}

// lightRate is what one ADU of a sub is: e-/s, or ADU/s while the gain is not known.
func (s *Sub) lightRate() float64 {
	if s.ElectronsPerADU > 0 {
		return s.ElectronsPerADU / s.Exposure
	}
	return 1 / s.Exposure
}

// NoiseRate is the variance of a sub's random noise, e-² a second and square arcsec.
func (s *Sub) NoiseRate() stats.Value {
	n := s.RandomNoise.V * s.ElectronsPerADU / s.PixelScale
	if v := n * n / s.Exposure; v > 0 && !math.IsInf(v, 0) {
		return stats.Known(v, math.NaN(), s.RandomNoise.N)
	}
	return stats.Missing(NoiseOrScale)
}

// measureSky puts the sky of the subs of one view on the scale of magnitudes, by the zero
// point at airmass 1 of the clearest sky that is known of the set-up: haze and cloud take starlight,
// but the sky's own light comes from below and between them as well. (Dew and dirt take
// both: then the sky is given as much too dark as Throughput is below 1.)
func (r *Result) measureSky(same []*Sub) {
	var scale float64
	for _, s := range same {
		if s.Plate.Solution != nil {
			scale = s.Plate.Scale
		}
	}
	zero := r.zenithZero(same)
	if best := r.Settings.Season.setup(viewOf(same[0])); best != nil && zero.OK() && best.Zero > zero.V {
		zero.V = best.Zero
	}
	for _, s := range same {
		sky := s.SkyADU.Scaled(s.lightRate())
		if !s.Calibrated {
			sky = stats.Because(s.applied.NoOffset())
		}
		s.SkyMag = plate.SurfaceBrightness(zero, sky, scale)
	}
}

// zenithZero is clearZero at airmass 1, so that nights do not seem clearer where the
// target stood higher: the zero point of clear sky is that of where the clearest subs
// stood. Where no airmass is known it stays what it is.
func (r *Result) zenithZero(all []*Sub) stats.Value {
	zero := clearZero(all)
	best := 0.0
	for _, s := range all {
		best = math.Max(best, s.Transparency.Ratio.Or(0))
	}
	airmass := math.Inf(1)
	for _, s := range all {
		if s.Transparency.Ratio.V >= 0.97*best && s.Sky.Airmass.OK() {
			airmass = math.Min(airmass, s.Sky.Airmass.V)
		}
	}
	if !zero.OK() || math.IsInf(airmass, 1) {
		return zero
	}
	k, more := r.extinctionOf(all[0]), airmass-1
	return stats.Known(zero.V+k.V*more, math.Hypot(zero.Err, k.KnownErr()*more), zero.N)
}

// clearZero is the zero point of clear sky, by the subs that have one.
func clearZero(all []*Sub) stats.Value {
	var zero, errs []float64
	for _, s := range all {
		if t := s.Transparency.Ratio; s.ZeroPoint.OK() && t.V > 0.5 {
			zero = append(zero, s.ZeroPoint.V-2.5*math.Log10(t.V))
			errs = append(errs, s.ZeroPoint.Err)
		}
	}
	if len(zero) == 0 {
		return stats.Because(firstWhy(all, func(s *Sub) stats.Value { return s.ZeroPoint }))
	}
	// The same stars with the same colours are behind all: their number helps little.
	return stats.Known(stats.Median(zero), stats.Median(errs), len(zero))
}

// extinctionSpread is by how much nights and filters differ in what an airmass takes, mag: of
// the usual it is half in the red and twice in the blue (Hayes and Latham 1975, from memory).
const extinctionSpread = 0.1

// extinctionOf is what an airmass took in a sub's night through its filter, else usually
// takes, mag.
func (r *Result) extinctionOf(s *Sub) stats.Value {
	date := r.nightOf(s)
	for _, e := range r.Extinctions {
		if e.K.OK() && e.K.V > 0 && e.K.Err < extinctionSpread && e.Target == s.Target && e.Filter == s.Filter && e.Camera == s.Camera && (e.Night == date || e.Night == "") {
			return e.K
		}
	}
	return stats.Known(subs.UsualExtinction, extinctionSpread, 0)
}

func throughput(zero stats.Value, best *Setup) stats.Value {
	switch {
	case !zero.OK():
		return stats.Because(zero.Why)
	case best == nil:
		return stats.Missing(NoOtherOfSetup)
	}
	t := math.Pow(10, 0.4*(zero.V-best.Zero))
	return stats.Known(t, t*zero.Err/1.0857*math.Sqrt2, zero.N)
}

func firstWhy(all []*Sub, of func(*Sub) stats.Value) fact.Fact {
	for _, s := range all {
		if v := of(s); v.Why.Code != "" {
			return v.Why
		}
	}
	return fact.Of(stats.NotMeasured)
}
