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
	m.SiteLat = l.degrees(synonyms.siteLat, 90, "latitude", "", "", "")
	m.SiteLon = math.NaN()
	l.cards(synonyms.siteLon, func(k keyword, c card) bool {
		x, _, side, ok := parseSided(c.value)
		east, told := positiveWay(c.comment)
		if side == 'N' || side == 'S' || !ok || math.Abs(x) > 360 {
			l.warn("%s is no longitude: %s", k.name, Printable(c.value))
			return false
		}
		if side == 0 && told && !east {
			x = -x
		}
		m.SiteLon = math.Remainder(x, 360)
		m.LonSettled = side != 0 || told || k.name == "OBSGEO-L"
		return true
	})
}

var (
	westWay = regexp.MustCompile(`(?i)west(ern)?[^a-z]*(is |longitudes? )?(\(?\+|positive|pos\b)|positive[^a-z]*(to |towards? )?(the )?west|\+\s*=?\s*w(est)?\b|\bw(est)?\s*\+|\[deg\s*w\]`)
	eastWay = regexp.MustCompile(`(?i)east(ern)?[^a-z]*(is |longitudes? )?(\(?\+|positive|pos\b)|positive[^a-z]*(to |towards? )?(the )?east|\+\s*=?\s*e(ast)?\b|\be(ast)?\s*\+|west(ern)?[^a-z]*(is )?negative|\[deg\s*e\]`)
)

// positiveWay tells which way a comment counts longitude.
func positiveWay(comment string) (east, told bool) {
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

// hours is an angle in degrees of a card that gives hours, or degrees by its comment.
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

// worldScale is the pixel scale of the world coordinates, arcsec, by the matrix
// CDi_j or the steps CDELTi (FITS 4.0 section 8.1; Calabretta and Greisen 2002,
// A&A 395, 1077, section 2); NaN when the axes are not the sky's.
func (l *lookup) worldScale() float64 {
	one := func(key string) float64 { return l.number(keys(key), math.NaN(), within(-1e6, 1e6)) }
	if !l.celestial() {
		return math.NaN()
	}
	area := math.Abs(one("CD1_1")*one("CD2_2") - orZero(one("CD1_2"))*orZero(one("CD2_1")))
	if math.IsNaN(area) { // a camera turned by a right angle may leave the diagonal out
		area = math.Abs(one("CD1_2") * one("CD2_1"))
	}
	if !(area > 0) {
		area = math.Abs(one("CDELT1") * one("CDELT2"))
	}
	scale := math.Sqrt(area) * l.axisUnit()
	if !(scale > 0.01 && scale < 1000) {
		return math.NaN()
	}
	return scale
}

func orZero(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// celestial tells whether the first two axes can be the sky.
func (l *lookup) celestial() bool {
	c, ok := l.h.get("CTYPE1")
	if !ok || strings.TrimSpace(c.value) == "" {
		return true
	}
	kind, _, _ := strings.Cut(strings.ToUpper(c.value), "-")
	switch kind {
	case "RA", "DEC", "GLON", "GLAT", "ELON", "ELAT":
		return true
	}
	return false
}

// dispersed tells that an axis is a wavelength, frequency or velocity (FITS 4.0
// section 8.4, table 25).
func (l *lookup) dispersed() bool {
	for _, key := range []string{"CTYPE1", "CTYPE2"} {
		for _, kind := range []string{"WAVE", "AWAV", "LAMBDA", "FREQ", "ENER", "VELO", "VRAD", "VOPT"} {
			if l.axisIs(key, kind) {
				return true
			}
		}
	}
	return false
}

// axisUnit is the axes' unit in arcsec.
func (l *lookup) axisUnit() float64 {
	if c, ok := l.h.get("CUNIT1"); ok {
		switch strings.ToLower(strings.TrimSpace(c.value)) {
		case "arcsec":
			return 1
		case "arcmin":
			return 60
		case "rad":
			return 3600 * 180 / math.Pi
		}
	}
	return 3600
}
