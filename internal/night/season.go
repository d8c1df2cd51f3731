package night

import (
	"cmp"
	"math"
	"slices"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/plan"
	"fitsqa/internal/plate"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// Season is what is known of other nights: the scale that all nights share.
type Season struct {
	References []Reference
	Setups     []Setup
}

// Merit of one night's group on the scale of its reference.
type Merit struct {
	View
	Level float64 // light over the reference's; NaN when the fields could not be tied
	Depth float64 // see Reference
	Could float64 // the depth that a target's first night would have had in the clearest air that is known of the set-up; Depth where none is clearer
	Zero  float64 // zero point of a clear sub at airmass 1, mag

	LevelErr, ZeroErr float64 // 1 sigma
}

// compareWithSeason puts every group on the scale of its season.
func (r *Result) compareWithSeason(known *memory) {
	for _, same := range partition(measured(r.Subs), viewOf) {
		r.measureSky(same)
	}
	r.Merits = map[int]Merit{}
	of := map[*subs.Sub]*Sub{}
	for _, s := range r.Subs {
		of[s.Sub] = s
	}
	for _, g := range r.Verdicts.Groups {
		var all []*Sub
		for _, s := range g.Subs {
			if s.Field != nil {
				all = append(all, of[s])
			}
		}
		r.compareGroup(g, all, known)
	}
	r.rescaleEarlier()
}

// compareGroup puts one group and its subs on the scale of its season.
func (r *Result) compareGroup(g *subs.Group, all []*Sub, known *memory) {
	r.scaleGroup(g, all, known)
	for _, s := range all {
		s.onSeason(g)
	}
}

// scaleGroup finds what the season is to a group.
func (r *Result) scaleGroup(g *subs.Group, all []*Sub, known *memory) {
	g.Season = subs.NoSeason(NoWeightInGroup)
	best := clearest(all)
	if len(best) == 0 || !(g.Merit > 0) {
		if len(all) > 0 { // width needs no weight
			ref, _ := r.reference(viewOf(all[0]))
			bestOf(&g.Season, ref)
		}
		return
	}
	view := viewOf(best[0])
	ref, ok := r.reference(view)
	if !ok {
		ref = newReference(view, best[0], r.nightOf(best[0]))
		r.References = append(r.References, ref)
	}
	g.Season.Level, g.Season.Reference = known.level(ref, best), ref.name()
	g.Season.ZeroPoint = r.zenithZero(best)
	depthOf(&g.Season, all)
	setup := r.Settings.Season.setup(view)
	g.Season.Throughput = throughput(g.Season.ZeroPoint, setup)
	gain := best[0].ElectronsPerADU
	if !(gain > 0) {
		gain = 1
	}
	level := g.Season.Level.V
	m := Merit{View: view, Level: level, Zero: g.Season.ZeroPoint.V, Depth: g.Merit / (gain * gain) * level * level,
		LevelErr: g.Season.Level.Err, ZeroErr: g.Season.ZeroPoint.Err}
	m.Could = m.Depth
	// Of the target's first night only: the others are held against that one, and the
	// largest of many such estimates would be too large.
	if t := g.Season.Throughput; poorAir(t) && ref.Night == r.nightOf(best[0]) {
		m.Could /= t.V * t.V
	}
	r.Merits[g.Stack] = m
	share(g, ref, m, setup)
	if g.Season.SoftNight() && !slices.Contains(g.Poor, subs.Soft) {
		g.Poor = append(g.Poor, subs.Soft)
	}
}

// clearest are the usable subs of most weight, at most five.
func clearest(all []*Sub) []*Sub {
	best := slices.DeleteFunc(slices.Clone(all), func(s *Sub) bool {
		return !s.Verdict.Usable() || !s.Weight.OK() || !(s.Transparency.Ratio.V > 0.2) || s.DuplicateOf != "" || !(s.Exposure > 0)
	})
	slices.SortStableFunc(best, func(a, b *Sub) int { return cmp.Compare(b.Weight.V, a.Weight.V) })
	return best[:min(len(best), 5)]
}

// depthOf fills in how deep the group's stack goes and what its sky was.
func depthOf(season *subs.Season, all []*Sub) {
	var mags, fwhm, noise []float64
	var limit, surface float64
	err, n := 0.0, 0
	for _, s := range all {
		if !s.Verdict.Usable() || s.DuplicateOf != "" {
			continue
		}
		if s.Field.FWHM.OK() && s.PixelScale > 0 {
			fwhm = append(fwhm, s.Field.FWHM.V*s.PixelScale)
		}
		if n := s.NoiseRate(); n.OK() {
			noise = append(noise, n.V)
		}
		if s.SkyMag.OK() {
			mags = append(mags, s.SkyMag.V)
		}
		if s.LimitingMag.OK() {
			// Signal to noise squared adds up.
			limit += math.Pow(10, 0.8*s.LimitingMag.V)
			surface += math.Pow(10, 0.8*plate.SurfaceLimit(s.ZeroPoint, s.RandomNoise.V*s.lightRate(), s.Plate.Scale).V)
			err, n = math.Max(err, s.LimitingMag.Err), n+1
		}
	}
	if len(fwhm) > 0 {
		season.FWHM = stats.Known(stats.Median(fwhm), stats.MADSigma(fwhm)/math.Sqrt(float64(len(fwhm))), len(fwhm))
	}
	season.Noise = stats.Missing(NoiseOrScale)
	if len(noise) > 0 {
		season.Noise = stats.Known(stats.Median(noise), stats.MADSigma(noise)/math.Sqrt(float64(len(noise))), len(noise))
	}
	if len(mags) > 0 {
		season.SkyMag = stats.Known(stats.Median(mags), err, len(mags))
	} else {
		season.SkyMag = stats.Because(firstWhy(all, func(s *Sub) stats.Value { return s.SkyMag }))
	}
	if n > 0 {
		season.Limit, season.Surface = stats.Known(1.25*math.Log10(limit), err, n), stats.Known(1.25*math.Log10(surface), err, n)
	} else {
		why := firstWhy(all, func(s *Sub) stats.Value { return s.LimitingMag })
		season.Limit, season.Surface = stats.Because(why), stats.Because(why)
	}
}

// poorAir tells that air and optics surely passed less than on the set-up's best night.
func poorAir(t stats.Value) bool { return t.OK() && t.V+2*t.Err < 0.9 }

// share sets a group against the best night of its season. A target that no other night
// is known of goes by the clearest air that the set-up ever had, on whatever target:
// signal to noise squared falls with the square of the light, the sky's light staying.
func share(g *subs.Group, ref Reference, m Merit, setup *Setup) {
	season := &g.Season
	bestOf(season, ref)
	if !season.Level.OK() {
		season.Light = stats.Because(season.Level.Why)
		season.Share, season.Clear = stats.Because(season.Level.Why), stats.Because(season.Level.Why)
		return
	}
	season.Light = season.Level.Scaled(1 / math.Max(season.Level.V, stats.OrZero(ref.Level)))
	of := 1.0
	if ref.Depth > m.Depth {
		of, season.Best = m.Depth/ref.Depth, ref.DepthNight
	}
	err := 2 * of * season.Level.Err / season.Level.V
	if t := season.Throughput; !(ref.Depth > 0) && m.Could > m.Depth {
		season.Light, season.Best = t, setup.Night
		of, err = m.Depth/m.Could, 2*t.V*t.Err
	}
	season.Share = stats.Known(of, err, season.Level.N)
	season.Clear = stats.Missing(plan.NoWeight)
	if !math.IsNaN(g.EquivalentClearSeconds) {
		season.Clear = season.Share.Scaled(g.EquivalentClearSeconds)
	}
}

// bestOf takes over how sharp and quiet the season's best subs were.
func bestOf(season *subs.Season, ref Reference) {
	none := stats.Missing(NoOtherNight)
	season.BestFWHM, season.BestNoise = none, none
	if ref.Subs >= 5 {
		season.BestFWHM = stats.Known(ref.FWHM, math.NaN(), ref.Subs)
		if ref.Noise > 0 {
			season.BestNoise = stats.Known(ref.Noise, math.NaN(), ref.Subs)
		}
	}
}

// onSeason puts a sub on the scale of its season.
func (s *Sub) onSeason(g *subs.Group) {
	switch light := g.Season.Light; {
	case !s.Transparency.Ratio.OK():
		s.SeasonTransparency = stats.Because(s.Transparency.Ratio.Why)
	case !light.OK():
		s.SeasonTransparency = stats.Because(light.Why)
	default:
		s.SeasonTransparency = s.Transparency.Ratio.Scaled(light.V)
	}
	s.SeasonFWHM = s.widthOnSeason(g.Season.BestFWHM)
	if share := g.Season.Share; share.OK() {
		s.SeasonShare = share.V
		s.SeasonalWeight = s.Weight.Scaled(share.V)
	} else {
		s.SeasonalWeight = stats.Because(share.Why)
	}
	if subs.SoftBeside(s.SeasonFWHM) && !g.Season.SoftNight() { // else all are, which is said once
		// No verdict: seeing may have been no better, and a soft sub adds its light.
		s.Remarks = append(s.Remarks, fact.Of(subs.WideBesideSeason, fact.Number("times", s.SeasonFWHM.V),
			fact.Number("fwhm_arcsec", s.Field.FWHM.V*s.PixelScale), fact.Number("season_arcsec", g.Season.BestFWHM.V)))
	}
}

// widthOnSeason is a sub's FWHM over that of the season's sharpest quarter: both in
// arcsec, of the same optics and filter.
func (s *Sub) widthOnSeason(best stats.Value) stats.Value {
	switch fwhm := s.Field.FWHM; {
	case !best.OK():
		return stats.Because(best.Why)
	case !fwhm.OK():
		return stats.Because(fwhm.Why)
	case !(s.PixelScale > 0):
		return stats.Missing(ScaleUnknown)
	default:
		return fwhm.Scaled(s.PixelScale / best.V)
	}
}

// rescaleEarlier takes off the other nights' clear time what this night's being better
// than all of them makes them worth less.
func (r *Result) rescaleEarlier() {
	r.Settings.Earlier = slices.Clone(r.Settings.Earlier)
	for _, m := range r.Merits {
		ref, ok := r.reference(m.View)
		if !ok || !(m.Depth > ref.Depth) {
			continue
		}
		for i := range r.Settings.Earlier {
			e := &r.Settings.Earlier[i]
			if e.Target.Key() == m.Target && e.Filter.Key() == m.Filter {
				e.ClearSeconds *= ref.Depth / m.Depth
			}
		}
	}
}

// seasonWarnings tell where air and optics passed less than on the set-up's best night.
func (r *Result) seasonWarnings() []fact.Fact {
	var list []fact.Fact
	for _, g := range r.Verdicts.Groups {
		name := frames.Printable(string(g.Target)) + " " + frames.Printable(string(g.Filter))
		season := &g.Season
		if t := season.Throughput; poorAir(t) {
			list = append(list, fact.Of(AirPoor, fact.Text("group", name), fact.Number("share", t.V)))
		}
	}
	return list
}
