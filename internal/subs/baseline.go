package subs

import (
	"math"
	"slices"
	"sort"

	"fitsqa/internal/stats"
)

// Baseline is what a group's clear subs were like: the figures that its subs
// are compared with. Figures that no clear sub has are NaN.
type Baseline struct {
	Clear int // subs behind it; 0: the group is too small to have one

	Sky         float64 // ADU
	Moonlight   float64 // sky with the Moon's light, times a dark one; NaN where unknown
	SkyScatter  float64 // standard deviation of the sky from one clear sub to the next, over Sky; 0 where none is known
	Noise       float64 // ADU
	RandomNoise float64 // ADU
	FWHM, HFD   float64 // px
	Stars       float64 // detected
	StarsSpread float64 // standard deviation of that among subs that are clear by their light; 0 where none is known
	Unevenness  float64 // %
	Halo        float64 // light in halos around the stars, over that in the stars
	Airmass     float64 // the lowest
	// Mean ellipticity vector (e cos 2θ, e sin 2θ), which the optics give to
	// every sub; 0 where that is more than they make.
	EllipticityX, EllipticityY float64
	Ellipticity                float64 // of the typical clear sub, whatever its direction
	Roundest                   float64 // length of that vector in the roundest quarter of the clear subs
	SensorTemp                 float64 // °C, median of all subs
	BearsAsIs                  float64 // scaled noise variance that an average of the group bears, ADU²
	Bears                      float64 // that with the extinction of each sub's airmass allowed for
	Doubled                    float64 // share of the stars' light in second images, median; 0 without ghosts

	ofNight   bool      // the width is that of the night's other groups
	widths    []float64 // FWHM of the clear subs, sorted, px
	scattered float64   // share of their variance that is from sub to sub, without a course: 0 to 1
}

// UsualExtinction is what one airmass of clean low-altitude air dims broad-band
// light by, mag: Rayleigh scattering 0.11 at 550 nm (Hayes and Latham 1975,
// from memory) and as much again of aerosol.
const UsualExtinction = 0.2

// clearShare is the transparency, as a fraction of the group's best, from
// which a sub counts as clear.
const clearShare = 0.9

// newBaseline is that of a group's subs; like are the subs of its target and
// filter whatever their exposure, which share width and shape; left are those of the
// group that are not culled, however few, which tell what asks for no usual sub.
func newBaseline(left, group, like []*Sub) Baseline {
	nan := math.NaN()
	b := Baseline{Sky: nan, Moonlight: nan, Noise: nan, RandomNoise: nan, FWHM: nan, HFD: nan, Stars: nan, Unevenness: nan, Halo: nan,
		Airmass: nan, EllipticityX: nan, EllipticityY: nan, Ellipticity: nan, Roundest: nan, SensorTemp: nan, BearsAsIs: nan, Bears: nan}
	usable, left := usableSubs(group), usableSubs(left)
	b.Airmass = quantile(left, 0, func(s *Sub) float64 { return s.Sky.Airmass.V })
	b.BearsAsIs, b.Bears = bears(left, b.Airmass)
	b.Roundest = quantile(clearSubs(left, b.Airmass), 0.25, (*Sub).ownElongation)
	if like = usableSubs(like); len(like) >= minGroup {
		b.shapes(clearSubs(like, quantile(like, 0, func(s *Sub) float64 { return s.Sky.Airmass.V })), like)
	}
	if len(usable) < minGroup {
		return b
	}
	b.SensorTemp = quantile(usable, 0.5, func(s *Sub) float64 { return s.SensorTemp })
	clear := clearSubs(usable, b.Airmass)
	b.Clear = len(clear)
	b.Sky = quantile(clear, 0.25, func(s *Sub) float64 { return s.SkyADU.V })
	b.Moonlight = quantile(clear, 0.25, moonlight)
	b.SkyScatter = skyScatter(clear, b.Sky)
	b.Noise = quantile(clear, 0.25, func(s *Sub) float64 { return s.NoiseADU.V })
	b.RandomNoise = quantile(clear, 0.25, func(s *Sub) float64 { return s.RandomNoise.V })
	b.Stars = quantile(clear, 0.75, func(s *Sub) float64 { return float64(s.Field.Count) })
	b.StarsSpread = countSpread(clear)
	b.Unevenness = quantile(clear, 0.25, func(s *Sub) float64 { return s.Transparency.Unevenness.V })
	b.Halo = quantile(clear, 0.5, func(s *Sub) float64 { return s.Field.Halo.V })
	b.Doubled = quantile(clear, 0.5, func(s *Sub) float64 { return s.Field.Double.Light() })
	return b
}

// skyScatter is by how much a clear sky scatters from one sub to the next: as the offset
// does, which in short exposures is more than the sky.
func skyScatter(clear []*Sub, level float64) float64 {
	inTime := slices.Clone(clear)
	slices.SortStableFunc(inTime, func(a, b *Sub) int { return a.Start.Compare(b.Start) })
	var steps []float64
	for i := 1; i < len(inTime); i++ {
		steps = append(steps, (inTime[i].SkyADU.V-inTime[i-1].SkyADU.V)/math.Sqrt2)
	}
	if len(inTime) < minGroup || !(level > 0) {
		return 0
	}
	return stats.MADSigma(steps) / level
}

// countSpread is by how much star counts scatter among clear subs: knots of nebulae, hot
// pixels and faint stars come and go with the seeing.
func countSpread(clear []*Sub) float64 {
	if len(clear) < minGroup {
		return 0
	}
	counts := make([]float64, len(clear))
	for i, s := range clear {
		counts[i] = float64(s.Field.Count)
	}
	return stats.MADSigma(counts)
}

// optics fills what the optics do to every star from the subs of all groups that
// were taken through them; of halos the least, since a whole group may be dewed. Where too
// few are like a group's own to tell their width, it is that of all, or of the sharpest of
// its own where that is more: another filter or target may be softer as a whole.
func (b *Baseline) optics(own, all []*Sub) {
	if h := quantile(usableSubs(all), 0.25, func(s *Sub) float64 { return s.Field.Halo.V }); !(b.Halo <= h) {
		b.Halo = h
	}
	if all = usableSubs(all); len(all) < minGroup {
		return
	}
	clear := clearSubs(all, quantile(all, 0, func(s *Sub) float64 { return s.Sky.Airmass.V }))
	b.EllipticityX, b.EllipticityY = opticsShape(clear)
	if own = usableSubs(own); len(own) >= minGroup {
		return
	}
	b.shapes(clear, all)
	sharpest := quantile(tellingWidth(own), 0, func(s *Sub) float64 { return s.Field.FWHM.V })
	b.ofNight = !(sharpest > b.FWHM)
	if !b.ofNight {
		b.FWHM = sharpest
	}
	if hfd := quantile(own, 0, func(s *Sub) float64 { return s.Field.HFD.V }); hfd > b.HFD {
		b.HFD = hfd
	}
}

// shapes fills width and elongation from the clear ones of some subs.
func (b *Baseline) shapes(clear, all []*Sub) {
	isClear := map[*Sub]bool{}
	for _, s := range clear {
		isClear[s] = true
	}
	var at []float64
	for _, s := range inTimeOrder(all) {
		if s.Field.FWHM.V > 0 && isClear[s] {
			at = append(at, hoursSince(all[0], s))
			b.widths = append(b.widths, s.Field.FWHM.V)
		}
	}
	b.scattered = scattered(at, b.widths)
	sort.Float64s(b.widths)
	b.FWHM = quantile(tellingWidth(clear), 0.25, func(s *Sub) float64 { return s.Field.FWHM.V })
	b.HFD = quantile(clear, 0.25, func(s *Sub) float64 { return s.Field.HFD.V })
	b.Ellipticity = quantile(clear, 0.5, func(s *Sub) float64 { return s.Field.Ellipticity.V })
}

// tellingWidth are the subs whose width tells something, where there are enough of them: hot
// pixels beside two faint stars are as narrow as can be, and make every other sub soft.
func tellingWidth(all []*Sub) []*Sub {
	loose := func(s *Sub) bool { return s.Field.FWHM.KnownErr() > looseWidth*s.Field.FWHM.V }
	telling := slices.DeleteFunc(slices.Clone(all), func(s *Sub) bool { return !s.Field.FWHM.OK() || loose(s) })
	if len(telling) < fewestShaped {
		return all
	}
	return telling
}

// scatteredFrom is the share of their variance by which most figures scatter from one to the
// next from which on they have no course: where they are independent, it is 0.7 without
// the widest eighth of the steps, with a standard deviation of 0.25 for some twenty of them
// (drawn).
const scatteredFrom = 0.3

// scattered is how far figures scatter from one to the next, rather than drift, step or come
// in spells: by what each is off the line between its neighbours in time (Gasser, Sroka and
// Jennen-Steinmetz 1986, Biometrika 73, 625, from memory), so that a drift that fewer subs
// show in larger steps is one as well. A jump, as of a focus that is set again, is in two of
// them: the widest eighth, and two at least, are left out. Times that do not grow count for
// one step each.
func scattered(at, x []float64) float64 {
	var off []float64
	for i := 1; i+1 < len(x); i++ {
		a := 0.5
		if before, after := at[i]-at[i-1], at[i+1]-at[i]; before > 0 && after > 0 {
			a = after / (before + after)
		}
		d := a*x[i-1] + (1-a)*x[i+1] - x[i]
		off = append(off, d*d/(a*a+(1-a)*(1-a)+1))
	}
	slices.Sort(off)
	v, most := stats.Variance(x), len(off)-max(2, len(off)/8)
	if most < 1 || !(v > 0) {
		return 0
	}
	return math.Min(1, stats.Mean(off[:most])/v/scatteredFrom)
}

// hoursSince is how long after another a sub began; 0 where a start is unknown.
func hoursSince(first, s *Sub) float64 {
	if first.Start.IsZero() || s.Start.IsZero() {
		return 0
	}
	return s.Start.Sub(first.Start).Hours()
}

// What the optics draw out all over a field alike, rather than outwards, is
// little, and a mount that trails all night must not pass for it: the further the
// vector goes beyond opticsMost, the less of it is put down to the optics, and
// nothing from half as much again on (common practice, no source).
const (
	opticsMost   = 0.07 // length of the vector
	opticsSpread = 0.05 // rms length along each axis from telescope to telescope
)

// opticsShape is the mean ellipticity vector that the rounder half of the clear
// subs share, as far as it is the optics'; NaN where too few shapes are known.
// As a mean of few subs that scatter it is uncertain itself, and is taken for what
// is likeliest between that and the opticsSpread around none.
func opticsShape(clear []*Sub) (x, y float64) {
	var shaped []*Sub
	for _, s := range clear {
		if x, y := s.ellipticityVector(); !math.IsNaN(x + y) {
			shaped = append(shaped, s)
		}
	}
	if len(shaped) < fewestShaped {
		return math.NaN(), math.NaN()
	}
	sort.SliceStable(shaped, func(i, j int) bool { return shaped[i].ownElongation() < shaped[j].ownElongation() })
	var xs, ys []float64
	for _, s := range shaped[:max(fewestShaped, (len(shaped)+1)/2)] {
		x, y := s.ellipticityVector()
		xs, ys = append(xs, x), append(ys, y)
	}
	x, y = stats.Median(xs), stats.Median(ys)
	share := 1 / (1 + (medianVariance(xs)+medianVariance(ys))/(2*opticsSpread*opticsSpread))
	share *= math.Min(1, math.Max(0, 3*opticsMost/math.Hypot(x, y)-2))
	return share * x, share * y
}

// fewestShaped subs tell what their shapes share.
const fewestShaped = 3

// medianVariance is the squared standard error of a sample's median: for a Gaussian
// π/2 times that of its mean.
func medianVariance(x []float64) float64 {
	return math.Pi / 2 * stats.Variance(x) / float64(len(x)-1)
}

// clearSubs are those within clearShare of the best transparency, or the best
// quarter where that is more; all where no transparency is known. Subs without
// stars define nothing, and of those behind a cover too little light arrives.
// How much the air takes is assumed, not known: a sub is as clear as it is among all as
// they are, or among all with their air allowed for, so that neither low subs nor high
// ones alone define what is normal. The light of rings
// is summed over more pixels, and comes out a fifth too high: no best one is among them
// where there are images enough. Nor is the best what noise made the highest: it is taken two
// standard errors down.
func clearSubs(usable []*Sub, airmass float64) []*Sub {
	var known, starry []*Sub
	var best, bestWeather float64
	for _, s := range usable {
		if s.Transparency.Ratio.OK() && !brighter(s) {
			known = append(known, s)
		}
		if s.Field.Count > 0 {
			starry = append(starry, s)
		}
	}
	if len(known) == 0 {
		return starry
	}
	images := slices.DeleteFunc(slices.Clone(known), func(s *Sub) bool { return s.Field.Defocused })
	if len(images) < minGroup {
		images = known
	}
	for _, s := range images {
		sure := surely(s.Transparency.Ratio)
		best, bestWeather = math.Max(best, sure), math.Max(bestWeather, sure/extinction(s, airmass))
	}
	clearness := func(s *Sub) float64 {
		return math.Max(s.Transparency.Ratio.V/best, weatherTransparency(s, airmass)/bestWeather)
	}
	sort.SliceStable(known, func(i, j int) bool { return clearness(known[i]) > clearness(known[j]) })
	n := sort.Search(len(known), func(i int) bool { return clearness(known[i]) < clearShare })
	return known[:min(len(known), max(n, (len(known)+3)/4, 3))]
}
