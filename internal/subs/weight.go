package subs

import (
	"math"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// weigh sets the weights of a group's subs. In the best linear stack a sub's
// signal to noise squared adds up; per second of exposure t, for faint
// extended light with signal ∝ T t and sky noise n, that is (T t / n)² / t.
// The best sub that is not culled has weight 1, the best as far as its light is known: what a
// few faint stars put at the top has an error that says so. What exceeds it is 1 as well,
// since a culled sub (a short noise under a cover) defines nothing. A usable sub that is
// alone is the best there is.
func weigh(g *Group) {
	best, sure := math.NaN(), math.NaN()
	for _, wanted := range []func(*Sub) bool{
		func(s *Sub) bool { return s.Verdict.Usable() },
		func(*Sub) bool { return true },
	} {
		for _, s := range g.Subs {
			if q := sureMerit(s); wanted(s) && q > 0 && !(q <= sure) {
				best, sure = merit(s), q
			}
		}
		if !math.IsNaN(best) {
			break
		}
	}
	g.Merit = best
	for _, s := range g.Subs {
		q := merit(s)
		switch {
		case !math.IsNaN(q):
			s.Weight = stats.Known(math.Min(1, q/best), math.NaN(), 1)
		case len(g.Subs) == 1 && s.Field != nil && s.Verdict.Usable():
			s.Weight = stats.Known(1, math.NaN(), 1)
		case s.Field == nil:
			s.Weight = stats.Missing(NotRead)
		case !s.Transparency.Ratio.OK():
			s.Weight = stats.Missing(TransparencyUnknown, fact.Reason(s.Transparency.Ratio.Reason()))
		default:
			s.Weight = stats.Missing(NoiseOrExposure)
		}
	}
	weighDetail(g)
}

// weighDetail sets the weights for what is as small as a star: its light stands
// against the noise of as many pixels as its image covers.
func weighDetail(g *Group) {
	sharpest := math.NaN()
	for _, s := range g.Subs {
		if s.Verdict != Cull && s.Field != nil && s.Field.FWHM.V > 0 && !(s.Field.FWHM.V >= sharpest) {
			sharpest = s.Field.FWHM.V
		}
	}
	for _, s := range g.Subs {
		switch {
		case !s.Weight.OK():
			s.WeightDetail = stats.Because(s.Weight.Why)
		case !(s.Field.FWHM.V > 0):
			s.WeightDetail = stats.Because(s.Field.FWHM.Reason())
		case math.IsNaN(sharpest):
			s.WeightDetail = stats.Missing(AllCulled)
		default:
			narrow := math.Min(1, sharpest/s.Field.FWHM.V)
			s.WeightDetail = s.Weight.Scaled(narrow * narrow)
		}
	}
}

// merit is signal to noise squared per second, in units of the group.
func merit(s *Sub) float64 {
	if s.Field == nil || !s.Transparency.Ratio.OK() || !(s.RandomNoise.V > 0) || !(s.Exposure > 0) {
		return math.NaN()
	}
	if q := depthOf(s) * s.Exposure; q > 0 {
		return q
	}
	return math.NaN()
}

// sureMerit is the merit by the light that is surely there.
func sureMerit(s *Sub) float64 {
	sure := surely(s.Transparency.Ratio) / s.Transparency.Ratio.V
	return merit(s) * sure * sure
}

// sumUp fills the group's sums from its judged and weighted subs.
func (g *Group) sumUp() {
	g.LostSeconds = map[Cause]float64{}
	weighted, timed := 0, 0
	for _, s := range g.Subs {
		t := s.Exposure
		if !(t > 0) {
			continue
		}
		timed++
		g.ShotSeconds += t
		if s.Verdict.Usable() {
			g.UsableSeconds += t
			if s.Weight.OK() {
				g.EquivalentClearSeconds += t * s.Weight.V
				weighted++
			}
		}
		switch {
		case len(s.Causes) == 0:
		case s.Verdict == Cull:
			g.LostSeconds[s.Causes[0]] += t
		case s.Weight.OK():
			g.LostSeconds[s.Causes[0]] += t * (1 - s.Weight.V)
		}
	}
	switch {
	case timed == 0 && len(g.Subs) > 0:
		g.ShotSeconds, g.UsableSeconds, g.EquivalentClearSeconds = math.NaN(), math.NaN(), math.NaN()
		g.Notes = append(g.Notes, fact.Of(NoExposures))
	case weighted == 0 && g.UsableSeconds > 0:
		g.EquivalentClearSeconds = math.NaN()
		g.Notes = append(g.Notes, fact.Of(NoWeights))
	}
	g.Economics = economics(g.Subs)
}
