package subs

import (
	"math"
	"time"
)

// evidence is a sub's figures against its baseline and limits. Ratios are NaN
// where either side is unknown, and then speak for nothing.
type evidence struct {
	*Sub
	base Baseline
	lim  Limits

	covered      float64 // share of the field that surely has no light and no cloud in front of it
	burden       float64 // noise it brings to a scaled average over what that bears, as far as is sure
	transparency float64 // of the weather: extinction at the sub's airmass allowed for
	unevenness   float64 // %, that is surely there, beyond the baseline's
	sky          float64 // times the baseline
	starlight    float64 // of sky: what the stars lost, spread over the field, at most
	skyByNoise   bool    // sky is the ratio of noise variances: the level is unknown
	skyAtLeast   bool    // sky is the ratio of levels with the offset in them: the noise is cut off
	stars        float64 // detected over expected
	fwhm         float64 // times the baseline, along the narrow axis where coherent elongation widens the other
	fwhmSure     float64 // the same, as far as is sure
	narrow       float64 // that axis over the geometric mean of both; 1 without such elongation
	byHFD        bool    // fwhm compares half-flux diameters: the images are rings
	halo         float64 // light in halos around the stars, over that in the stars, beyond the baseline
	trail        float64 // length of the mean ellipticity vector beyond the optics'
	trailErr     float64
	trailAngle   float64 // of its axis, radians
	motion       motion  // of the comet that its session followed
	still        float64 // FWHM without that motion over the one with it; 1 without

	night []*evidence // all subs of its camera with a known start, in time order
	place int         // of this one among them
	mates []*evidence // the subs of its group and session, in time order
	rank  int         // of this one among them

	drifts map[bool]drift // of the mates on either side of the pier, as far as asked for

	lit     []*evidence // those of its night and session whose transparency is known, and no passing cloud's
	litRank int         // of this one among those
}

// resolved is the FWHM along the narrow axis, px, under which a star's shape is
// the pixels', not the sky's: a point of light itself spans a pixel.
const resolved = 1.0

// looseWidth is the error of a width, as a share of it, from which on its few fits are
// no images of single stars, and tell no shape either.
const looseWidth = 0.25

// fewestShapes is how many stars have to be behind a size before it speaks
// against a sub: of one or two, noise may have made either.
const fewestShapes = 3

// certain is the severity of what needs no measuring.
const certain = 100

// countSlope: star counts grow as the -0.8th power of the limiting flux (0.32 dex
// a magnitude, between the 0.24 and 0.4 dex of star counts at 12 to 16 mag;
// Bahcall and Soneira 1980, from memory).
const countSlope = 0.8

// expectedStars is the baseline's count, less what this sub's transparency,
// noise and star size cost: a star is found above a flux ∝ noise × FWHM /
// transparency.
func (e *evidence) expectedStars() float64 {
	limit := 1.0
	size := math.NaN()
	if e.Field.FWHM.N >= fewestShapes {
		size = ratio(e.Field.FWHM.V, e.base.FWHM)
	} else if e.Spread.N > 0 {
		size = e.Spread.V
	}
	for _, r := range []float64{ratio(e.NoiseADU.V, e.base.Noise), size, 1 / e.Transparency.Ratio.V} {
		if r > 1 {
			limit *= r
		}
	}
	return e.base.Stars * math.Pow(limit, -countSlope)
}

// byChanceFew tells whether chance alone may bring a count so far under the expected one,
// of which it is a share: within two standard errors. Three stars where eight are usual
// are no finding, nor ten of twenty where the clear subs' counts scatter by as much.
func (e *evidence) byChanceFew(share float64) bool {
	n := float64(e.Field.Count)
	return e.countByChance(n, n/share)
}

// countByChance tells whether chance alone may bring a count so far under what is expected.
func (e *evidence) countByChance(n, expected float64) bool {
	spread := e.base.StarsSpread * expected / e.base.Stars
	return n > expected-math.Hypot(2*math.Sqrt(expected), spreadBelow*spread)
}

// spreadBelow is two standard deviations below the middle, seen from the upper quartile,
// which is what is expected.
const spreadBelow = 2.67

// sessionGap parts nights, and evening from morning: what happened before it
// tells nothing of what happens after.
const sessionGap = 4 * time.Hour

// nearby bounds what counts as the same weather.
const (
	nearbySubs = 3
	nearbyTime = 30 * time.Minute
)

// around are the neighbours in time, whatever their filter: weather knows no
// filters. In time order, the sub itself left out.
func (e *evidence) around() []*evidence {
	var out []*evidence
	for j := max(0, e.place-nearbySubs); j <= min(len(e.night)-1, e.place+nearbySubs); j++ {
		if o := e.night[j]; j != e.place && o.Start.Sub(e.Start).Abs() <= nearbyTime {
			out = append(out, o)
		}
	}
	return out
}

// passedByCloud tells of a sub whose light says nothing of dew: it is uneven in a way that
// does not stand, or its sky lit.
func (e *evidence) passedByCloud() bool {
	return e.patchy() || e.skyLeft() > cloudSkyRise
}

// skyLeft is the sky, times the baseline, that is surely there and not the stars' own.
func (e *evidence) skyLeft() float64 { return e.sky - e.starlight - 2*e.base.SkyScatter }

// patchy tells whether a sub's light is uneven as cloud makes it.
func (e *evidence) patchy() bool {
	return e.unevenness > e.lim.UnevennessDoubtful && !e.standing()
}
