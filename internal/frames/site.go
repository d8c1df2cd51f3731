package frames

import (
	"math"
	"regexp"
	"strings"
)

// site reads where the telescope stood. Longitude counts east as positive by the
// IAU's rule and in FITS (OBSGEO-L, FITS 4.0 section 8.4.1), yet many
// observatories write west as positive: unless a letter, the comment or the
// keyword tells, the sign is open and the sky has to bear it out.
func (l *lookup) site(m *Meta) {
	m.SiteLat = l.degrees(synonyms.siteLat, NoLatitude, "", "", "")
	m.SiteLon = math.NaN()
	l.cards(synonyms.siteLon, func(k keyword, c card) bool {
		x, sexagesimal, side, ok := l.angle(c)
		east, stated := positiveWay(c.comment)
		if unit := strings.ToLower(bracketed(c.comment)); math.Abs(x) <= 24 && (unit == "h" || strings.HasPrefix(unit, "hour") || sexagesimal && strings.Contains(strings.ToLower(c.comment), "hours")) {
			x *= 15
		}
		if side == 'N' || side == 'S' || !ok || math.Abs(x) > 360 {
			l.warn(NoLongitude, ofCard(k.name, c)...)
			return false
		}
		if side == 0 && (stated && !east || !stated && x > 0 && onlyWest(c.comment)) {
			x = -x
		}
		m.SiteLon = math.Remainder(x, 360)
		m.LonSettled = side != 0 || stated || k.name == "OBSGEO-L"
		return true
	})
	if math.IsNaN(m.SiteLat) && math.IsNaN(m.SiteLon) {
		l.geocentric(m)
	}
}

// geocentric reads the site from OBSGEO-X, -Y, -Z (FITS 4.0 section 9.2.3), metres in
// the terrestrial frame, on the ellipsoid of WGS 84 (NIMA TR8350.2): latitude by
// Bowring (1976, Survey Review 23, 323), good to a hair at any height on Earth.
func (l *lookup) geocentric(m *Meta) {
	const a, b = 6378137.0, 6356752.3142
	axis := func(key string) float64 { return l.number(keys(key), math.NaN(), within(-7e6, 7e6)) }
	x, y, z := axis("OBSGEO-X"), axis("OBSGEO-Y"), axis("OBSGEO-Z")
	if r := math.Sqrt(x*x + y*y + z*z); !(r > 6.33e6 && r < 6.40e6) {
		return
	}
	p := math.Hypot(x, y)
	sin, cos := math.Sincos(math.Atan2(z*a, p*b))
	lat := math.Atan2(z+(a*a-b*b)/b*sin*sin*sin, p-(a*a-b*b)/a*cos*cos*cos)
	m.SiteLat, m.SiteLon, m.LonSettled = lat*180/math.Pi, math.Atan2(y, x)*180/math.Pi, true
	n := a / math.Sqrt(1-(1-b*b/(a*a))*math.Pow(math.Sin(lat), 2)) // radius of curvature across the meridian
	if h := p*math.Cos(lat) + z*math.Sin(lat) - a*a/n; h > -500 && h < 9000 {
		m.SiteElevation = h
	}
}

var (
	westWord = regexp.MustCompile(`(?i:\bwest)|\bW\b`)
	eastWord = regexp.MustCompile(`(?i:\beast)|\bE\b`)
)

// onlyWest tells that a comment speaks of the west alone: a number without a sign
// then counts that way, as far as the sky bears it out.
func onlyWest(comment string) bool {
	return westWord.MatchString(comment) && !eastWord.MatchString(comment)
}

var (
	westWay = regexp.MustCompile(`(?i)west(ern)?[^a-z]*(is |longitudes? )?(\(?\+|positive|pos\b)|positive[^a-z]*(to |towards? )?(the )?west|\+\s*=?\s*w(est)?\b|\bw(est)?\s*\+|\[deg\s*w\]`)
	eastWay = regexp.MustCompile(`(?i)east(ern)?[^a-z]*(is |longitudes? )?(\(?\+|positive|pos\b)|positive[^a-z]*(to |towards? )?(the )?east|\+\s*=?\s*e(ast)?\b|\be(ast)?\s*\+|west(ern)?[^a-z]*(is )?negative|negative[^a-z]*(to |towards? )?(the )?west|\[deg\s*e\]`)
)

// positiveWay tells which way a comment counts longitude.
func positiveWay(comment string) (east, stated bool) {
	e, w := eastWay.MatchString(comment), westWay.MatchString(comment)
	return e, e != w
}

// witnesses reads what the header claims of the target's place in the sky, which
// betrays a wrong clock or site.
func (l *lookup) witnesses(m *Meta) {
	m.Altitude, m.HourAngle, m.Sidereal = math.NaN(), math.NaN(), math.NaN()
	l.cards(synonyms.altitude, func(_ keyword, c card) bool {
		x, _, ok := parseAngle(c.value)
		comment := strings.ToLower(c.comment)
		ok = ok && math.Abs(x) <= 90 && !strings.Contains(comment, "site") && !strings.Contains(comment, "observ") &&
			!strings.Contains(comment, "elevation above") && !strings.Contains(comment, "met") && !strings.HasPrefix(comment, "[m]")
		if ok {
			m.Altitude = x
		}
		return ok
	})
	m.HourAngle = l.hours(synonyms.hourAngle, -12, 12)
	if h := l.hours(synonyms.hourAngle, 12, 24); math.IsNaN(m.HourAngle) && !math.IsNaN(h) {
		m.HourAngle = h - 360
	}
	m.Sidereal = l.hours(synonyms.sidereal, 0, 24)
}

func (l *lookup) hours(keys []keyword, lo, hi float64) float64 {
	v := math.NaN()
	l.cards(keys, func(_ keyword, c card) bool {
		x, sexagesimal, side, ok := parseSided(c.value)
		if !sexagesimal && strings.Contains(strings.ToLower(c.comment), "deg") {
			x /= 15
		}
		if side == 'E' {
			x = -math.Abs(x)
		} else if side == 'W' {
			x = math.Abs(x)
		}
		if !ok || x < lo || x > hi {
			return false
		}
		v = 15 * x
		return true
	})
	return v
}
