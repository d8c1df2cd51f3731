package sky

import (
	"math"
	"time"

	"fitsqa/internal/stats"

	"github.com/soniakeys/meeus/v3/base"
	"github.com/soniakeys/meeus/v3/coord"
	"github.com/soniakeys/meeus/v3/globe"
	"github.com/soniakeys/meeus/v3/julian"
	"github.com/soniakeys/meeus/v3/moonillum"
	"github.com/soniakeys/meeus/v3/moonposition"
	"github.com/soniakeys/meeus/v3/nutation"
	"github.com/soniakeys/meeus/v3/precess"
	"github.com/soniakeys/meeus/v3/refraction"
	"github.com/soniakeys/meeus/v3/sidereal"
	"github.com/soniakeys/meeus/v3/solar"
	"github.com/soniakeys/unit"
)

// ttMinusUTC in seconds, as it has been since 2017. In 1999 it was 5 s less,
// in which the Moon moves by 3".
const ttMinusUTC = 69.184

const kmPerAU = base.AU

// body is a geocentric place on the sky, equator and equinox of date.
type body struct {
	ra       unit.RA
	dec      unit.Angle
	distance float64 // km, +Inf for stars
}

// instant is what the sky over the whole Earth has in common at one time.
type instant struct {
	year       float64    // Julian epoch, for precession
	sidereal   unit.Angle // apparent, Greenwich
	sun, moon  body
	moonLit    float64 // fraction of the disk, geocentric
	phaseAngle float64 // degrees, 0 at full Moon
}

func at(t time.Time) instant {
	jd := julian.TimeToJD(t)
	jde := jd + ttMinusUTC/86400
	now := instant{
		year:     base.JDEToJulianYear(jde),
		sidereal: sidereal.Apparent(jd).Angle(),
		sun:      sunAt(jde),
		moon:     moonAt(jde),
	}
	i := moonillum.PhaseAngleEq(now.moon.ra, now.moon.dec, now.moon.distance,
		now.sun.ra, now.sun.dec, now.sun.distance)
	now.moonLit = base.Illuminated(i) // (48.1) p. 345
	now.phaseAngle = i.Deg()
	return now
}

// sunlit is an instant without the Moon, which takes most of the time.
func sunlit(t time.Time) instant {
	jd := julian.TimeToJD(t)
	jde := jd + ttMinusUTC/86400
	return instant{year: base.JDEToJulianYear(jde), sidereal: sidereal.Apparent(jd).Angle(), sun: sunAt(jde)}
}

func sunAt(jde float64) body {
	ra, dec := solar.ApparentEquatorial(jde)
	return body{ra, dec, solar.Radius(base.J2000Century(jde)) * kmPerAU}
}

func moonAt(jde float64) body {
	lon, lat, distance := moonposition.Position(jde)
	dpsi, deps := nutation.Nutation(jde)
	s, c := (nutation.MeanObliquity(jde) + deps).Sincos()
	ra, dec := coord.EclToEq(lon+dpsi, lat, s, c)
	return body{ra, dec, distance}
}

// fromJ2000 is a target at the equinox of the instant.
func (now instant) fromJ2000(raDeg, decDeg float64) body {
	eq := &coord.Equatorial{RA: unit.RAFromDeg(raDeg), Dec: unit.AngleFromDeg(decDeg)}
	precess.Position(eq, eq, 2000, now.year, 0, 0)
	return body{eq.RA, eq.Dec, math.Inf(1)}
}

// place is a site prepared for many sightings.
type place struct {
	lon                    unit.Angle // east positive
	sinLat, cosLat         float64
	rhoSinPhi1, rhoCosPhi1 float64 // geocentric, in equatorial radii
}

func (s *Site) place() place {
	lat := unit.AngleFromDeg(s.Lat)
	elevation := stats.OrZero(s.Elevation)
	p := place{lon: unit.AngleFromDeg(s.Lon)}
	p.sinLat, p.cosLat = lat.Sincos()
	p.rhoSinPhi1, p.rhoCosPhi1 = globe.Earth76.ParallaxConstants(lat, elevation)
	return p
}

// sighting is a body as seen from a place, degrees.
type sighting struct {
	alt       float64 // geometric
	hourAngle float64 // (-180, 180], west positive
	dec       float64
}

// see applies parallax and turns to the horizon.
func (p place) see(now instant, b body) sighting {
	ha := float64(now.sidereal) + float64(p.lon) - float64(b.ra)
	sinH, cosH := math.Sincos(ha)
	sinD, cosD := b.dec.Sincos()
	// The vector from the observer to the body in equatorial radii, scaled by
	// the parallax' sine: what (40.2) and (40.3) p. 279 take the angles of.
	sinPi := globe.Earth76.Er / b.distance // 0 for stars
	x := cosD*cosH - p.rhoCosPhi1*sinPi
	y := cosD * sinH
	z := sinD - p.rhoSinPhi1*sinPi
	r := math.Sqrt(x*x + y*y + z*z)
	const deg = 180 / math.Pi
	return sighting{
		alt:       math.Asin((p.sinLat*z+p.cosLat*x)/r) * deg, // (13.6) p. 93
		hourAngle: math.Atan2(y, x) * deg,
		dec:       math.Asin(z/r) * deg,
	}
}

// separation of two sightings at one instant, degrees, from the haversine so
// that small angles keep their digits.
func separation(a, b sighting) float64 {
	const rad = math.Pi / 180
	sd := math.Sin((a.dec - b.dec) * rad / 2)
	sh := math.Sin((a.hourAngle - b.hourAngle) * rad / 2)
	h := sd*sd + math.Cos(a.dec*rad)*math.Cos(b.dec*rad)*sh*sh
	return 2 * math.Asin(math.Min(1, math.Sqrt(h))) / rad
}

// lift is the refraction to be added to a geometric altitude above the
// horizon, degrees, at 10 °C and sea level.
func lift(altDeg float64) float64 {
	return refraction.Saemundsson(unit.AngleFromDeg(altDeg)).Deg() // (16.4) p. 106
}
