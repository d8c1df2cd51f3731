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
	n, digits, exp := 0, 0, -1
	comma := false
	if n < len(s) && (s[n] == '+' || s[n] == '-') {
		n++
	}
	point := false
scan:
	for ; n < len(s); n++ {
		switch c := s[n]; {
		case c >= '0' && c <= '9':
			digits++
		case (c == '.' || c == ',') && !point:
			if c == ',' && (n+1 == len(s) || s[n+1] < '0' || s[n+1] > '9') {
				return 0, "", false // a list, not a decimal comma
			}
			point, comma = true, c == ','
		case c == '.' || c == ',':
			return 0, "", false // two separators: a date, a list or thousands
		default:
			break scan
		}
	}
	if digits == 0 {
		return 0, "", false
	}
	if n < len(s) && strings.IndexByte("eEdD", s[n]) >= 0 {
		m := n + 1
		if m < len(s) && (s[m] == '+' || s[m] == '-') {
			m++
		}
		first := m
		for m < len(s) && s[m] >= '0' && s[m] <= '9' {
			m++
		}
		if m > first {
			exp, n = n, m
		}
	}
	unit = strings.TrimSpace(s[n:])
	if unit != "" && !startsUnit(unit) {
		return 0, "", false
	}
	text := s[:n]
	if exp >= 0 {
		text = s[:exp] + "e" + s[exp+1:n]
	}
	if comma {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "", false
	}
	return v, unit, true
}

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
