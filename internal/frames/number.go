package frames

import (
	"math"
	"strconv"
	"strings"
)

// parseNumber reads the number that a header value starts with, as leniently
// as is safe: a plus sign, a Fortran exponent (1.5D3), a decimal comma when
// there is no point, and a unit after the number ("11 C", "0.019 mm", "2.5x").
// It returns the unit too. Text that is not one number and perhaps a unit
// ("18:15:29", "1, 1024", "NaN") is not a number.
func parseNumber(s string) (v float64, unit string, ok bool) {
	s = strings.TrimSpace(s)
	digits, ok := digitsOf(s)
	if !ok {
		return 0, "", false
	}
	end := exponentEnd(s, digits)
	if unit = strings.TrimSpace(s[end:]); unit != "" && !startsUnit(unit) {
		return 0, "", false
	}
	text := strings.Replace(s[:digits], ",", ".", 1)
	if end > digits {
		text += "e" + s[digits+1:end]
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "", false
	}
	return v, unit, true
}

// digitsOf is how many bytes of a text are a number before its exponent: a sign, digits,
// and a point or a comma among them; false where there are none, or more separators than
// one number has.
func digitsOf(s string) (n int, ok bool) {
	if n < len(s) && (s[n] == '+' || s[n] == '-') {
		n++
	}
	parted := false
	for ; n < len(s); n++ {
		switch c := s[n]; {
		case isDigit(c):
			ok = true
		case c != '.' && c != ',':
			return n, ok
		case parted: // a date, a list or thousands
			return 0, false
		case c == ',' && (n+1 == len(s) || !isDigit(s[n+1])): // a list, not a decimal comma
			return 0, false
		default:
			parted = true
		}
	}
	return n, ok
}

// exponentEnd is where an exponent that begins at a place of a text ends; that place
// where none does.
func exponentEnd(s string, from int) int {
	if from == len(s) || strings.IndexByte("eEdD", s[from]) < 0 {
		return from
	}
	end := from + 1
	if end < len(s) && (s[end] == '+' || s[end] == '-') {
		end++
	}
	first := end
	for end < len(s) && isDigit(s[end]) {
		end++
	}
	if end == first {
		return from
	}
	return end
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// startsUnit tells whether what follows a number can be a unit: it starts with
// a letter, a degree or percent sign, quotes of minutes and seconds, or an
// opening bracket, and has no further digit.
func startsUnit(s string) bool {
	c := s[0]
	letter := c|0x20 >= 'a' && c|0x20 <= 'z'
	if !letter && c < 0x80 && strings.IndexByte("%'\"([/", c) < 0 {
		return false
	}
	return !strings.ContainsAny(s, "0123456789:")
}

// wholeNumber reads a structural integer; a number written as a real one with
// no fraction is accepted, as some writers do.
func wholeNumber(s string) (int64, bool) {
	s = strings.TrimSpace(s)
	if n, err := strconv.ParseInt(s, 10, 64); err == nil {
		return n, true
	}
	v, unit, ok := parseNumber(s)
	if !ok || unit != "" || v != math.Trunc(v) || math.Abs(v) > 1<<53 {
		return 0, false
	}
	return int64(v), true
}
