// Package sky tells where Sun, Moon and target stood, how much air was in
// between, how bright the sky should have been, and whether the times in the
// headers can be true.
//
// Positions follow Meeus, Astronomical Algorithms (2nd ed. 1998): the Sun of
// chapter 25 (low precision, 0.01°), the Moon of chapter 47 (full series,
// about 10"), topocentric by chapter 40, because the Moon's parallax moves it
// by up to a degree. Targets are precessed from J2000 (chapter 21); nutation and
// aberration of the target, together under 0.01°, are left out. A header that gives
// coordinates of date instead of J2000 puts the target up to 0.4° off.
// Altitudes are geometric: refraction enters only into the airmass.
//
// Angles at the surface of the package are degrees, longitudes east positive,
// azimuths from north through east, times UTC. UT1 is taken as UTC (within
// 0.9 s, 0.004°).
package sky

import (
	"math"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/stats"
)

// Site is a place on Earth.
type Site struct {
	Lat       float64 `toml:"lat" with:"lon" min:"-90" max:"90" unit:"degrees" help:"latitude, north positive"`
	Lon       float64 `toml:"lon" with:"lat" min:"-180" max:"360" unit:"degrees" help:"longitude, east positive"`
	Elevation float64 `toml:"elevation" min:"-500" max:"9000" unit:"m" help:"height above the sea"` // NaN counts as sea level
}

// Valid tells whether the coordinates can be a place on Earth. A header that
// holds 0, 0 was never filled in: that is open sea.
func (s *Site) Valid() bool {
	return s != nil && math.Abs(s.Lat) <= 90 && math.Abs(s.Lon) <= 360 && !(s.Lat == 0 && s.Lon == 0)
}

// Near tells whether two sites are one: a tenth of a degree is 11 km, and nobody carries a
// telescope that far in a night.
func (s *Site) Near(o *Site) bool {
	return s != nil && o != nil && math.Abs(s.Lat-o.Lat)+math.Abs(s.Lon-o.Lon) <= 0.1
}

// Conditions at one moment. Each figure is missing with a reason when site,
// time or target is unknown. They are computed, not measured: Err is NaN and N
// is 0.
type Conditions struct {
	SunAlt, MoonAlt stats.Value // degrees, topocentric, geometric
	MoonLitPct      stats.Value
	MoonSeparation  stats.Value // degrees, Moon to target
	TargetAlt       stats.Value // degrees
	Airmass         stats.Value
	HourAngle       stats.Value // degrees, west positive
	MoonlightNL     stats.Value // expected moonlight on the target's sky, nanolamberts (V band), 0 while the Moon is down
	MoonlightMag    stats.Value // brightening of a dark sky by the Moon, mag (negative: brighter)
}

// At gives the conditions at t; a nil site, a zero time or NaN coordinates leave
// the figures that need them missing. Coordinates are J2000.
func At(site *Site, t time.Time, raDeg, decDeg float64) Conditions {
	if t.IsZero() {
		return missingConditions(fact.Of(TimeUnknown))
	}
	now := at(t)
	lit := stats.Known(100*now.moonLit, math.NaN(), 0)
	if !site.Valid() {
		c := missingConditions(fact.Of(SiteUnknown))
		c.MoonLitPct = lit
		return c
	}
	known := func(v float64) stats.Value { return stats.Known(v, math.NaN(), 0) }
	place := site.place()
	sun, moon := place.see(now, now.sun), place.see(now, now.moon)
	if math.IsNaN(raDeg) || math.IsNaN(decDeg) || math.Abs(decDeg) > 90 {
		c := missingConditions(fact.Of(CoordinatesUnknown))
		c.SunAlt, c.MoonAlt, c.MoonLitPct = known(sun.alt), known(moon.alt), lit
		return c
	}
	target := place.see(now, now.fromJ2000(raDeg, decDeg))
	c := Conditions{
		SunAlt: known(sun.alt), MoonAlt: known(moon.alt), MoonLitPct: lit,
		MoonSeparation: known(separation(moon, target)),
		TargetAlt:      known(target.alt),
		HourAngle:      known(target.hourAngle),
	}
	if target.alt <= 0 {
		below := stats.Missing(TargetDown)
		c.Airmass, c.MoonlightNL, c.MoonlightMag = below, below, below
		return c
	}
	c.Airmass = known(Airmass(target.alt + lift(target.alt)))
	c.MoonlightNL, c.MoonlightMag = known(0), known(0)
	if moon.alt > 0 {
		z, zm := 90-target.alt, 90-moon.alt
		light := moonlight(now.phaseAngle, c.MoonSeparation.V, zm, z, Extinction)
		c.MoonlightNL = known(light)
		c.MoonlightMag = known(brightening(darkSky(z, Extinction), light))
	}
	return c
}

// Withheld are conditions of which none can be trusted, and why.
func Withheld(why fact.Fact) Conditions { return missingConditions(why) }

// Disputed are the conditions without what tells where the target stood.
func (c Conditions) Disputed() Conditions {
	m := stats.Missing(PlaceDisputed)
	c.TargetAlt, c.Airmass, c.HourAngle, c.MoonlightNL, c.MoonlightMag = m, m, m, m, m
	return c
}

func missingConditions(why fact.Fact) Conditions {
	m := stats.Because(why)
	return Conditions{m, m, m, m, m, m, m, m, m}
}
