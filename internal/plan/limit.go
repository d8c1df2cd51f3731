package plan

import (
	"math"

	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// saturatedShare is the median over subs of the fraction of stars that saturate.
func saturatedShare(good []*subs.Sub) stats.Value {
	var shares []float64
	for _, s := range good {
		if s.Field.Count >= enoughStars {
			shares = append(shares, float64(s.Field.Saturated)/float64(s.Field.Count))
		}
	}
	if len(shares) == 0 {
		return stats.Missing(FewStars)
	}
	return stats.Known(stats.Median(shares), stats.MADSigma(shares), len(shares))
}

const enoughStars = 50

// saturationLimit scales every star's peak and the sky with the exposure: the
// exposure at which the stated fraction of the stars reaches saturation. Where
// more saturate already, their true peaks are hidden, and the slope of the
// counts below saturation, N(>p) ∝ p^-a, is followed downwards instead.
func saturationLimit(g Group, good []*subs.Sub, opt Options) stats.Value {
	full := g.Calibration.Saturation
	if math.IsNaN(full) || math.IsInf(full, 0) {
		return stats.Missing(SaturationUnknown)
	}
	var limits []float64
	for _, s := range good {
		if t := saturationLimitOf(s, g, full, opt.SaturatedShare); t > 0 {
			limits = append(limits, t)
		}
	}
	if len(limits) == 0 {
		return stats.Missing(FewForSaturation)
	}
	return stats.Known(stats.Median(limits), stats.MADSigma(limits), len(limits))
}

// saturationLimitOf one sub, s; NaN where too few stars tell it.
func saturationLimitOf(s *subs.Sub, g Group, full, share float64) float64 {
	if s.Field.Count < enoughStars || !(s.Exposure > 0) || !s.Field.Sky.OK() {
		return math.NaN()
	}
	factors := roomOfStars(s, g.Offset, full)
	allowed := int(share * float64(len(factors)))
	if allowed >= len(factors) {
		return math.NaN()
	}
	if f := stats.SelectKth(factors, allowed); f > 1 {
		return s.Exposure * f
	}
	saturated, within4 := 0, 0
	for _, f := range factors {
		if f < 1.0000001 {
			saturated++
		}
		if f < 4 {
			within4++
		}
	}
	if within4 <= saturated {
		return math.NaN()
	}
	slope := math.Log(float64(within4)/float64(saturated)) / math.Log(4)
	return s.Exposure * math.Pow(float64(max(allowed, 1))/float64(saturated), 1/slope)
}

// roomOfStars is by how many times the exposure of a sub may grow before each of its stars
// saturates. offset and full are ADU of raw frames. What does not grow with the
// exposure is the offset, which calibration takes off; all of the sky where it is not known.
func roomOfStars(s *subs.Sub, offset, full float64) []float64 {
	sky, room := s.Field.Sky.V, full-stats.OrZero(offset)
	switch {
	case s.Calibrated:
	case math.IsNaN(offset):
		sky, room = 0, full-sky
	default:
		sky -= offset
	}
	factors := make([]float64, 0, len(s.Field.Stars))
	for i := range s.Field.Stars {
		star := &s.Field.Stars[i]
		f := room / (star.Peak + sky)
		if star.Saturated {
			f = math.Min(f, 1)
		}
		if f > 0 {
			factors = append(factors, f)
		}
	}
	return factors
}

// trailing is the fraction of the subs with stars that trailed, and how often it
// struck per second of exposure. They speak only when the night shows enough of
// them to tell. What trails several subs in a row struck once, and would have taken
// as much time from subs of any length: the rate is that of subs that trailed after
// one that did not.
func trailing(g *subs.Group) (share, rate stats.Value) {
	const enoughSubs, enoughTrailed = 15, 3
	trailed, all, strikes, chances, before := 0, 0, 0, 0, false
	for _, s := range g.Subs {
		if s.Field == nil || s.Field.Count == 0 {
			continue
		}
		all++
		is := s.Verdict != subs.Keep && len(s.Causes) > 0 && s.Causes[0] == subs.Trailed
		if is {
			trailed++
		}
		if !before {
			chances++
			if is {
				strikes++
			}
		}
		before = is
	}
	if all < enoughSubs || trailed < enoughTrailed || !(g.Exposure > 0) {
		why := stats.Missing(TrailingRare)
		return why, why
	}
	f := math.Min(float64(trailed)/float64(all), 0.95)
	p := math.Min(float64(strikes)/float64(chances), 0.95)
	return stats.Known(f, math.Sqrt(f*(1-f)/float64(all)), all), // binomial
		// Struck by chance at a steady rate, exp(-rate t) of the subs are spared.
		stats.Known(-math.Log(1-p)/g.Exposure, math.Sqrt(p/(1-p)/float64(chances))/g.Exposure, strikes)
}
