package subs

import (
	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Season sets a group against the best night that is known of its target, filter and
// optics, this night included. The caller fills it.
type Season struct {
	Level      stats.Value // light of the group's clear sub over that of the season's reference night; N = stars
	Reference  string      // the name of that reference
	Light      stats.Value // of the group's clear sub over that of the season's clearest night
	Share      stats.Value // what a second of this night's best is in seconds of the season's best
	Clear      stats.Value // s: equivalent clear time of the season's best night
	Best       string      // date of that night; "" for this one
	Throughput stats.Value // light of a catalogue star through air and optics over the best of this set-up
	ZeroPoint  stats.Value // mag, of the group's clear sub at airmass 1
	SkyMag     stats.Value // mag per square arcsec, median
	Limit      stats.Value // magnitude of a star of 5 sigma in the stack of all that are not culled
	Surface    stats.Value // mag per square arcsec that are 3 sigma in 10 by 10 arcsec of that stack
	FWHM       stats.Value // arcsec, median over the subs
	BestFWHM   stats.Value // arcsec, the sharpest quarter of the season's kept subs; N = subs
	Noise      stats.Value // e-² a second and square arcsec, median over the subs
	BestNoise  stats.Value // the quietest quarter of the season's kept subs; N = subs
}

// NoSeason is a season of which nothing is known, for one reason.
func NoSeason(why fact.Code) Season {
	no := stats.Missing(why)
	return Season{Level: no, Light: no, Share: no, Clear: no, Throughput: no, ZeroPoint: no, SkyMag: no, Limit: no, Surface: no, FWHM: no, BestFWHM: no, Noise: no, BestNoise: no}
}

// softNight is by how much a night's median FWHM is above the season's sharpest quarter
// before the night is called soft (common practice, no source).
const softNight = 1.4

// SoftNight tells that the night as a whole is soft beside the season.
func (s Season) SoftNight() bool {
	return s.FWHM.OK() && s.BestFWHM.OK() && s.BestFWHM.V > 0 && s.FWHM.V > softNight*s.BestFWHM.V
}

// SoftBeside tells that stars so many times as wide as those of the season's sharpest
// quarter are soft, beyond what their width's error leaves open.
func SoftBeside(ratio stats.Value) bool {
	err := ratio.KnownErr()
	return ratio.OK() && ratio.V-2*err > softNight
}

// SeasonWeight is a sub's weight on the scale of the best night of its season.
func (s *Sub) SeasonWeight() float64 {
	if s.SeasonShare > 0 {
		return s.Weight.V * s.SeasonShare
	}
	return s.Weight.V
}
