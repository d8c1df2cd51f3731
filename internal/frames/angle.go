package frames

import (
	"math"
	"strconv"
	"strings"

	"fitsqa/internal/fact"
)

// parseAngle reads a decimal number or a sexagesimal text ("18:15:29",
// "09 02 22.5", "-25d17m06s", "+49°49'09\"", "+49*49'09", "110 deg 52.8 min") and tells whether
// it was sexagesimal. A trailing S or W turns the sign, as does a leading one.
func parseAngle(s string) (v float64, sexagesimal, ok bool) {
	v, sexagesimal, _, ok = parseSided(s)
	return v, sexagesimal, ok
}

var angleWords = strings.NewReplacer("NORTH", "N", "SOUTH", "S", "EAST", "E", "WEST", "W", "OUEST", "W", "OESTE", "W", "OST", "E",
	"DEGREES", "D", "DEGREE", "D", "DEG", "D", "MINUTES", "M", "MIN", "M", "SECONDS", "S", "SEC", "S", "ARC", "")

// parseSided is parseAngle, and which side of the world (N, E, S, W; 0 for none) a
// letter tells.
func parseSided(s string) (v float64, sexagesimal bool, side byte, ok bool) {
	s = angleWords.Replace(strings.ToUpper(strings.TrimSpace(s)))
	s, side = cutSide(s)
	v, sexagesimal, ok = parseUnsided(s)
	if side == 'S' || side == 'W' {
		v = -math.Abs(v) // "-110.9 W" is no double turn
	}
	return v, sexagesimal, side, ok
}

// cutSide takes the letter of a side of the world off. "17M06S" ends in seconds,
// not in the south, "17M06S S" does not.
func cutSide(s string) (string, byte) {
	if s == "" {
		return s, 0
	}
	if first := s[0]; strings.IndexByte("NESW", first) >= 0 {
		return strings.TrimSpace(s[1:]), first
	}
	last := s[len(s)-1]
	cut := strings.TrimRight(s[:len(s)-1], " ")
	if strings.IndexByte("NEW", last) >= 0 || last == 'S' && (!strings.ContainsAny(cut, "DHM") || strings.HasSuffix(cut, "S") || len(cut) < len(s)-1) {
		return cut, last
	}
	return s, 0
}

// parseUnsided is parseAngle of a text without such a letter.
func parseUnsided(s string) (v float64, sexagesimal, ok bool) {
	if x, unit, numeric := parseNumber(s); numeric && (unit == "" || unit == "D" || unit == "°" || unit == "H") {
		return x, unit == "H", true
	}
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(":; DHMS°º*'\"′″", r) })
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false, false
	}
	sign, scale := 1.0, 1.0
	if strings.HasPrefix(parts[0], "-") {
		sign = -1
	}
	for i, p := range parts {
		if i == 0 {
			p = strings.TrimLeft(p, "+-")
		}
		x, err := strconv.ParseFloat(strings.Replace(p, ",", ".", 1), 64)
		if err != nil || !(x >= 0) || math.IsInf(x, 0) || i > 0 && x > 60 {
			return 0, false, false
		}
		v += x / scale
		scale *= 60
	}
	return sign * v, true, true
}

// angle is parseSided of a card, in degrees too where the card is in radians.
func (l *lookup) angle(c card) (v float64, sexagesimal bool, side byte, ok bool) {
	v, sexagesimal, side, ok = parseSided(c.value)
	if !sexagesimal && strings.HasPrefix(strings.ToLower(bracketed(c.comment)), "rad") {
		v *= 180 / math.Pi
	}
	return v, sexagesimal, side, ok
}

// rightAscension is in degrees: sexagesimal text is hours, a decimal number
// degrees unless its comment says hours (common practice, no source). OBJCTRA is
// a text of hours by custom: a number there is hours, too, where it can be.
// bare tells that nothing says which a number under 24 is.
func (l *lookup) rightAscension() (v float64, bare bool) {
	v = math.NaN()
	l.cards(synonyms.ra, func(k keyword, c card) bool {
		if k.name == "CRVAL1" && !l.axisIs("CTYPE1", "RA--") {
			return false
		}
		x, hours, _, ok := l.angle(c)
		comment := strings.ToLower(c.comment)
		hours = hours || strings.Contains(comment, "hour") || strings.Contains(comment, "[h")
		if k.name == "OBJCTRA" && ok && !hours && x >= 0 && x < 24 {
			hours = true
			l.warn(BareHours, ofCard(k.name, c)...)
		}
		if hours {
			x *= 15
		}
		if !ok || x < 0 || x > 360 {
			l.warn(NoRightAscension, ofCard(k.name, c)...)
			return false
		}
		v, bare = x, !hours && x < 24 && k.name != "CRVAL1" && !strings.Contains(comment, "deg")
		return true
	})
	return v, bare
}

// degrees is an angle of at most 90 either way; otherwise is what is warned of a card
// that holds none. The world-coordinate keyword wcs counts only when its axis is of the
// kind that it should be.
func (l *lookup) degrees(keys []keyword, otherwise fact.Code, wcs, axis, kind string) float64 {
	v := math.NaN()
	l.cards(keys, func(k keyword, c card) bool {
		if k.name == wcs && wcs != "" && !l.axisIs(axis, kind) {
			return false
		}
		x, _, _, ok := l.angle(c)
		if !ok || math.Abs(x) > 90 {
			l.warn(otherwise, ofCard(k.name, c)...)
			return false
		}
		v = x
		return true
	})
	return v
}

func (l *lookup) axisIs(key, kind string) bool {
	c, ok := l.h.get(key)
	return ok && strings.HasPrefix(c.value, kind)
}
