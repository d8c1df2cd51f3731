package demo

import (
	"cmp"
	"slices"
)

// The limits between plainly good, a matter of taste, and plainly spoiled.
// They describe what an imager would say (common practice, no source), not
// what the analysis decides, and leave a wide gap between the two.
const (
	goodClearness, spoiledClearness = 0.88, 0.50
	goodSky, spoiledSky             = 1.4, 3.3 // over the group's darkest quarter: from there on less than a third of the weight is left
	goodFWHM, spoiledFWHM           = 1.18, 1.55
	goodTrail, spoiledTrail         = 0.15, 0.42 // coherent ellipticity
)

// classify fills the ratios to the group, the class and the causes of all subs.
func classify(subs []Sub) {
	type key struct {
		target, filter string
		exposure       float64
	}
	groups := map[key][]*Sub{}
	for i := range subs {
		s := &subs[i]
		k := key{s.Target, s.Filter, s.Exposure}
		groups[k] = append(groups[k], s)
	}
	for _, g := range groups {
		best := slices.MaxFunc(g, func(a, b *Sub) int { return cmp.Compare(a.Transmission, b.Transmission) }).Transmission
		sky := lowQuartile(g, func(s *Sub) float64 { return s.SkyRate })
		fwhm := lowQuartile(g, func(s *Sub) float64 { return s.FWHM })
		for _, s := range g {
			s.Transparency = s.Transmission / best
			s.SkyRatio = s.SkyRate / sky
			s.FWHMRatio = s.FWHM / fwhm
			s.judge()
		}
	}
}

func lowQuartile(g []*Sub, figure func(*Sub) float64) float64 {
	values := make([]float64, len(g))
	for i, s := range g {
		values[i] = figure(s)
	}
	slices.Sort(values)
	return values[len(values)/4]
}

// judge orders the evidence by how far it is past the limits.
func (s *Sub) judge() {
	type fault struct {
		cause    string
		severity float64 // 0 at the good limit, 1 at the spoiled one
	}
	between := func(v, good, spoiled float64) float64 { return (v - good) / (spoiled - good) }
	faults := []fault{
		{"cloud", between(s.Clearness, goodClearness, spoiledClearness)},
		{"soft", between(s.FWHMRatio, goodFWHM, spoiledFWHM)},
		{"trailed", between(s.Ellipticity*s.Coherence, goodTrail, spoiledTrail)},
	}
	sky := fault{"bright_sky", between(s.SkyRatio, goodSky, spoiledSky)}
	switch {
	case s.SunAlt > -18:
		sky.cause = "twilight"
	case s.MoonAlt > 0:
		sky.cause = "moonlit"
	}
	// A trail widens the image and a cloud brightens the sky: only one of each pair is the cause.
	if faults[2].severity > 0 {
		faults[1].severity = 0
	}
	if faults[0].severity > 0 {
		sky.severity = 0
	}
	faults = append(faults, sky)
	slices.SortStableFunc(faults, func(a, b fault) int { return cmp.Compare(b.severity, a.severity) })

	s.Class, s.Causes = Good, []string{}
	for _, f := range faults {
		if f.severity > 0 {
			s.Causes = append(s.Causes, f.cause)
		}
	}
	switch worst := faults[0].severity; {
	case worst >= 1:
		s.Class = Spoiled
	case worst > 0:
		s.Class = Borderline
	}
}
