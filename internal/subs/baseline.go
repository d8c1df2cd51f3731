package subs

import (
	"math"
	"sort"

	"fitsqa/internal/stats"
)

// Baseline is what a group's clear subs were like: the figures that its subs
// are compared with. Figures that no clear sub has are NaN.
type Baseline struct {
	Clear int // subs behind it; 0: the group is too small to have one

	Sky         float64 // ADU
	Noise       float64 // ADU
	RandomNoise float64 // ADU
	FWHM, HFD   float64 // px
	Stars       float64 // detected
	Unevenness  float64 // %
	Airmass     float64 // the lowest
	// Mean ellipticity vector (e cos 2θ, e sin 2θ), which the optics give to
	// every sub.
	EllipticityX, EllipticityY float64
	SensorTemp                 float64 // °C, median of all subs
	Doubled                    float64 // share of stars with a companion at one offset, median; 0 without ghosts
}

// extinctionMag is what one airmass of clean low-altitude air dims broad-band
// light by, mag: Rayleigh scattering 0.11 at 550 nm (Hayes and Latham 1975,
// from memory) and as much again of aerosol.
const extinctionMag = 0.2

// clearShare is the transparency, as a fraction of the group's best, from
// which a sub counts as clear.
const clearShare = 0.9

func newBaseline(group []*Sub) Baseline {
	nan := math.NaN()
	b := Baseline{Sky: nan, Noise: nan, RandomNoise: nan, FWHM: nan, HFD: nan, Stars: nan, Unevenness: nan,
		Airmass: nan, EllipticityX: nan, EllipticityY: nan, SensorTemp: nan}
	var usable []*Sub
	for _, s := range group {
		if s.Field != nil && s.DuplicateOf == "" {
			usable = append(usable, s)
		}
	}
	if len(usable) < MinGroup {
		return b
	}
	b.SensorTemp = quantile(usable, 0.5, func(s *Sub) float64 { return s.SensorTemp })
	b.Airmass = quantile(usable, 0, func(s *Sub) float64 { return s.Sky.Airmass.V })
	clear := clearSubs(usable, b.Airmass)
	b.Clear = len(clear)
	b.Sky = quantile(clear, 0.25, func(s *Sub) float64 { return s.SkyADU.V })
	b.Noise = quantile(clear, 0.25, func(s *Sub) float64 { return s.NoiseADU.V })
	b.RandomNoise = quantile(clear, 0.25, func(s *Sub) float64 { return s.RandomNoise.V })
	b.FWHM = quantile(clear, 0.25, func(s *Sub) float64 { return s.Field.FWHM.V })
	b.HFD = quantile(clear, 0.25, func(s *Sub) float64 { return s.Field.HFD.V })
	b.Stars = quantile(clear, 0.75, func(s *Sub) float64 { return float64(s.Field.Count) })
	b.Unevenness = quantile(clear, 0.25, func(s *Sub) float64 { return s.Transparency.Unevenness.V })
	b.Doubled = quantile(clear, 0.5, func(s *Sub) float64 { _, _, share := companions(s.Field); return share })
	round := clear[:0:0]
	median := quantile(clear, 0.5, func(s *Sub) float64 { return s.Field.Ellipticity.V })
	for _, s := range clear {
		if s.Field.Ellipticity.V <= median {
			round = append(round, s)
		}
	}
	b.EllipticityX = quantile(round, 0.5, func(s *Sub) float64 { x, _ := ellipticityVector(s.Field); return x })
	b.EllipticityY = quantile(round, 0.5, func(s *Sub) float64 { _, y := ellipticityVector(s.Field); return y })
	return b
}

// clearSubs are those within clearShare of the best transparency, or the best
// quarter where that is more; all where no transparency is known. Subs without
// stars define nothing.
func clearSubs(usable []*Sub, airmass float64) []*Sub {
	var known, starry []*Sub
	for _, s := range usable {
		if s.Transparency.Ratio.OK() {
			known = append(known, s)
		}
		if s.Field.Count > 0 {
			starry = append(starry, s)
		}
	}
	if len(known) == 0 {
		return starry
	}
	sort.SliceStable(known, func(i, j int) bool {
		return weatherTransparency(known[i], airmass) > weatherTransparency(known[j], airmass)
	})
	best := weatherTransparency(known[0], airmass)
	n := sort.Search(len(known), func(i int) bool { return weatherTransparency(known[i], airmass) < clearShare*best })
	return known[:min(len(known), max(n, (len(known)+3)/4, 3))]
}

// weatherTransparency is the transparency that is left when the extinction
// beyond the given airmass is allowed for: what cloud and haze leave.
func weatherTransparency(s *Sub, airmass float64) float64 {
	return s.Transparency.Ratio.V / extinction(s, airmass)
}

// extinction is the transparency that the air alone allows relative to the
// given airmass; 1 where an airmass is unknown. m = m0 + k X (Bouguer).
func extinction(s *Sub, airmass float64) float64 {
	if !s.Sky.Airmass.OK() || math.IsNaN(airmass) {
		return 1
	}
	return math.Pow(10, -0.4*extinctionMag*(s.Sky.Airmass.V-airmass))
}

// quantile of a figure over the subs that have it; NaN when none has.
func quantile(subs []*Sub, p float64, figure func(*Sub) float64) float64 {
	var x []float64
	for _, s := range subs {
		if v := figure(s); !math.IsNaN(v) && !math.IsInf(v, 0) {
			x = append(x, v)
		}
	}
	if len(x) == 0 {
		return math.NaN()
	}
	return stats.Quantile(x, p)
}
