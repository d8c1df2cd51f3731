// Package sky tells where Sun, Moon and target stood, how much air was in
// between and how bright the sky should have been.
package sky

import (
	"time"

	"fitsqa/internal/stats"
)

// Site is a place on Earth.
type Site struct {
	Lat, Lon  float64 // degrees, north and east positive
	Elevation float64 // m
}

// Conditions at one moment. Each figure is missing with a reason when site,
// time or target is unknown.
type Conditions struct {
	SunAlt, MoonAlt stats.Value // degrees, topocentric, geometric
	MoonLitPct      stats.Value
	MoonSeparation  stats.Value // degrees, Moon to target
	TargetAlt       stats.Value // degrees
	Airmass         stats.Value
	HourAngle       stats.Value // degrees, west positive
	MoonlightMag    stats.Value // brightening of a dark sky by the Moon, mag (negative: brighter)
}

// At gives the conditions; a nil site, a zero time or NaN coordinates leave
// the figures that need them missing.
func At(site *Site, t time.Time, raDeg, decDeg float64) Conditions { return Conditions{} }
