package demo

import (
	"cmp"
	"math"
	"slices"
)

// The limits between plainly good, a matter of taste, and plainly spoiled.
// They describe what an imager would say (common practice, no source), not
// what the analysis decides, and leave a wide gap between the two.
const (
	goodClearness, spoiledClearness = 0.88, 0.50 // of cloud, over that of the group's clearest
	goodUneven, spoiledUneven       = 0.04, 0.25 // sd of cloud's light over the field, of its mean: gradients
	goodLight, spoiledLight         = 0.75, 1.5  // noise variance of the sub brought to the stack's light, over what a scaled average of the group bears
	goodFWHM, spoiledFWHM           = 1.18, 1.55 // over the group's sharpest quarter; over that and its best average
	goodTrail, spoiledTrail         = 0.15, 0.42 // coherent ellipticity
	goodCover, spoiledCover         = 0.04, 0.28 // of the field
	goodDouble, spoiledDouble       = 0.02, 0.15 // of the stars' light
	goodSky, spoiledSky             = 4, 13      // times the group's darkest quarter
	goodWidth, spoiledWidth         = 0.9, 1.2   // of 8 arcsec and of 5 px, whichever is less
)

// A group that is poor as a whole is no better for losing subs that are like its best:
// there only stars as lines, or twice the width, are plainly spoiled.
const (
	poorTrail, linesAsStars = 0.24, 0.49 // of the roundest quarter; of a sub there
	poorWidth, twiceAsWide  = 0.75, 2.3  // likewise
)

// classify fills the ratios to the group, the class and the causes of all subs, whose
// pixels are of so many arcsec.
func classify(subs []Sub, scale float64) {
	type key struct {
		target, filter string
		exposure       float64
	}
	groups, filters := map[key][]*Sub{}, map[key][]*Sub{}
	for i := range subs {
		s := &subs[i]
		k := key{s.Target, s.Filter, s.Exposure}
		groups[k] = append(groups[k], s)
		k.exposure = 0
		filters[k] = append(filters[k], s)
	}
	for _, g := range groups {
		best := slices.MaxFunc(g, func(a, b *Sub) int { return cmp.Compare(a.Transmission, b.Transmission) }).Transmission
		sky := lowQuartile(g, func(s *Sub) float64 { return s.SkyRate })
		bears, _ := bearable(g)
		for _, s := range g {
			s.Transparency = s.Transmission / best
			s.SkyRatio = s.SkyRate / sky
			s.LightRatio = s.scaledVariance() / bears
		}
	}
	for k, g := range groups {
		k.exposure = 0
		beside := besides(g, filters[k], scale)
		for _, s := range g {
			s.FWHMRatio = s.FWHM / beside.fwhm
			s.judge(beside, scale)
		}
	}
}

type company struct {
	clearest     float64 // the most light that its clouds let through
	heaviest     float64 // noise variance over what an average bears, from which on a sub is plainly spoiled
	fwhm         float64 // px, of the sharpest quarter through its filter
	softest      float64 // times that, from which on a sub is plainly spoiled
	usual        bool    // whether there are enough to tell what is usual
	trail, width float64 // from which on its subs are plainly spoiled whatever the others are like
}

func besides(g, filter []*Sub, scale float64) company {
	c := company{fwhm: lowQuartile(filter, func(s *Sub) float64 { return s.FWHM }), usual: len(filter) >= fewestAlike, trail: spoiledTrail, width: spoiledWidth}
	for _, s := range g {
		c.clearest = math.Max(c.clearest, s.underCloud())
	}
	bears, most := bearable(g)
	c.heaviest = spoiledLight * most / bears
	c.softest = spoiledFWHM * math.Max(1, averageWidth(filter)/c.fwhm)
	if lowQuartile(g, (*Sub).trail) > poorTrail {
		c.trail = linesAsStars
	}
	if wide(c.fwhm, scale) > poorWidth {
		c.width = twiceAsWide
	}
	return c
}

func (s *Sub) underCloud() float64 { return s.Clearness / (1 - s.Dewed) }

// averageWidth is the FWHM of a star as high as the mean of the peaks in the best average
// of those whose light is not spoiled: with peaks p of equal noise the one with the most
// signal to noise times peak, Σp / √k. One whose peak is below half that mean takes more
// than it gives.
func averageWidth(filter []*Sub) float64 {
	var widths []float64
	for _, s := range filter {
		if s.LightRatio < spoiledLight {
			widths = append(widths, s.FWHM)
		}
	}
	slices.Sort(widths)
	sum, most, width := 0.0, 0.0, 0.0
	for i, w := range widths {
		sum += 1 / (w * w)
		if k := float64(i + 1); sum/math.Sqrt(k) > most {
			most, width = sum/math.Sqrt(k), math.Sqrt(k/sum)
		}
	}
	return width
}

// trail is the length of the mean ellipticity vector.
func (s *Sub) trail() float64 { return s.Ellipticity * s.Coherence }

// wide is a width over what no group makes good.
func wide(fwhm, scale float64) float64 { return math.Min(fwhm*scale/8, fwhm/5) }

// scaledVariance is the background's noise variance once the sub is brought to
// the light of one without atmosphere.
func (s *Sub) scaledVariance() float64 { return s.Noise2 / (s.Transmission * s.Transmission) }

// asDeep is how much more noise than the best average's is as good.
const asDeep = 1.02

// bearable is the scaled variance from which on a sub takes more than it gives.
// An average of k subs of equal light has the noise √Σv / k; one more lowers it
// while v < (2 + 1/k) times their mean, and the best k are those that make it
// least. Where an average of a few clear subs is as deep as one of many lesser ones, it is
// a matter of taste which of these are left out: most is what the largest such one bears.
func bearable(g []*Sub) (best, most float64) {
	var all []float64
	for _, s := range g {
		all = append(all, s.scaledVariance())
	}
	slices.Sort(all)
	var noise, bears []float64
	sum, least := 0.0, math.Inf(1)
	for i, v := range all {
		sum += v
		k := float64(i + 1)
		noise, bears = append(noise, math.Sqrt(sum)/k), append(bears, (2+1/k)*sum/k)
		if noise[i] < least {
			least, best = noise[i], bears[i]
		}
	}
	for i, n := range noise {
		if n < asDeep*least {
			most = bears[i]
		}
	}
	return best, most
}

func lowQuartile(g []*Sub, figure func(*Sub) float64) float64 {
	values := make([]float64, len(g))
	for i, s := range g {
		values[i] = figure(s)
	}
	slices.Sort(values)
	return values[len(values)/4]
}

// fewestAlike subs of a target and filter tell what is usual; a width beside fewer is a
// matter of taste.
const fewestAlike = 5

// fault is what may be wrong with a sub, and how far it is past the limits.
type fault struct {
	cause    string
	severity float64 // 0 at the good limit, 1 at the spoiled one
}

// faults are all that a sub may have, the worst first, for pixels of so many arcsec.
func (s *Sub) faults(beside company, scale float64) []fault {
	between := func(v, good, spoiled float64) float64 { return (v - good) / (spoiled - good) }
	faults := []fault{
		{s.lightCause(), between(s.LightRatio, goodLight, beside.heaviest)},
		{"cloud", between(s.underCloud()/beside.clearest, goodClearness, spoiledClearness)},
		{"soft", between(s.FWHMRatio, goodFWHM, beside.softest)},
		{"trailed", between(s.trail(), goodTrail, beside.trail)},
		{"obstructed", between(s.Covered, goodCover, spoiledCover)},
		{"trailed", s.doubled()},
		{"soft", between(wide(s.FWHM, scale), goodWidth, beside.width)},
		{s.lightCause(), between(s.SkyRatio, goodSky, spoiledSky)},
		{"cloud", between(s.Uneven, goodUneven, spoiledUneven)},
	}
	if s.Even {
		faults[1].severity = 0
	}
	if s.Frosted && float64(s.StarsAbove5)*s.Covered/(1-s.Covered) < fewestHidden {
		faults[4].severity = math.Min(faults[4].severity, 0.99)
	}
	if !beside.usual {
		faults[2].severity = math.Min(faults[2].severity, 0.99)
	}
	if other, both := s.otherLoss(); both {
		faults = append(faults, fault{other, faults[0].severity})
	}
	// A trail widens the image: only one of the two is the cause.
	if faults[3].severity > 0 {
		faults[2].severity, faults[6].severity = 0, 0
	}
	slices.SortStableFunc(faults, func(a, b fault) int { return cmp.Compare(b.severity, a.severity) })
	return faults
}

func (s *Sub) judge(beside company, scale float64) {
	faults := s.faults(beside, scale)
	s.Class, s.Causes = Good, []string{}
	for _, f := range faults {
		if f.severity > 0 && !slices.Contains(s.Causes, f.cause) {
			s.Causes = append(s.Causes, f.cause)
			if f.severity >= 1 {
				s.Spoil = len(s.Causes)
			}
		}
	}
	switch worst := faults[0].severity; {
	case worst >= 1:
		s.Class = Spoiled
	case worst > 0:
		s.Class = borderline
	}
}

// fewestHidden stars that frost hides are plainly missing: under a sky that it leaves nearly
// as bright nothing else tells it.
const fewestHidden = 10

// doubled is how far second images go from the good limit to the spoiled one. Those that
// run into the first ones draw the stars out, a matter of taste at worst.
func (s *Sub) doubled() float64 {
	severity := (s.DoubleShare - goodDouble) / (spoiledDouble - goodDouble)
	if s.DoublePx < 1.5*s.FWHM {
		return math.Min(severity, 0.99)
	}
	return severity
}

// A cloud that thickens until the night ends takes light as dew does. Its frames tell it
// apart where it lights the sky or is patchy, beyond these.
const alikeSky, alikeUneven = 1.25, 0.12 // times the group's darkest quarter; sd over the field

// otherLoss is what takes light as well where dew and cloud each take a third or more, and
// the other one where nothing tells which it is.
func (s *Sub) otherLoss() (cause string, both bool) {
	if s.Thickens && s.SkyRatio < alikeSky && s.Uneven < alikeUneven && s.lightCause() == "cloud" {
		return "dewed", true
	}
	dew, all := math.Log(1-s.Dewed), math.Log(s.Clearness)
	if share := dew / all; !(share > 1./3 && share < 2./3) {
		return "", false
	}
	switch {
	case s.lightCause() != "dewed":
		return "dewed", true
	case s.Even:
		return "haze", true
	}
	return "cloud", true
}

func (s *Sub) lightCause() string {
	switch {
	case s.Dewed > 0.1 && s.Dewed >= 1-s.Clearness/(1-s.Dewed):
		return "dewed"
	case s.Clearness < goodClearness && s.Even:
		return "haze"
	case s.Clearness < goodClearness:
		return "cloud"
	case s.SunAlt > -18:
		return "twilight"
	case s.MoonAlt > 0:
		return "moonlit"
	}
	return "bright_sky"
}
