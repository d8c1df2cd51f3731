package frames

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// start is when the exposure began, UTC. FITS 4.0 section 9.1: DATE-OBS is
// ISO 8601 without a zone, UTC by default; older files put the time into a
// card of its own, and before 2000 dates were DD/MM/YY of 19YY (FITS 4.0
// section 4.4.2.1). Without either, the Julian date.
func (l *lookup) start(exposure float64) time.Time {
	var found time.Time
	var dateOnly string
	l.cards(synonyms.dateTime, func(k keyword, c card) bool {
		t, hasTime, ok := parseMoment(c.value)
		if ok && !hasTime {
			if dateOnly == "" {
				dateOnly = k.name
			}
			if t, ok = l.addTimeOfDay(t); !ok {
				return false
			}
		}
		if !ok {
			if k.name == "DATE-OBS" {
				l.warn("%s is no date: %s", k.name, Printable(c.value))
			}
			return false
		}
		t, ok = shiftToStart(k.name, c.comment, t, exposure)
		found = t
		return ok
	})
	if found.IsZero() {
		found = l.julianStart(exposure)
	}
	if found.IsZero() && dateOnly != "" {
		l.warn("%s has a date but no time of day: start unknown", dateOnly)
	}
	return found
}

// shiftToStart moves a time of mid or end of exposure to its start.
func shiftToStart(key, comment string, t time.Time, exposure float64) (time.Time, bool) {
	back := 0.0
	comment = strings.ToLower(comment)
	switch {
	case key == "DATE-END":
		back = 1
	case key == "DATE-AVG" || strings.Contains(comment, "mid-exp") || strings.Contains(comment, "midpoint") || strings.Contains(comment, "mid exp"):
		back = 0.5
	}
	if back == 0 {
		return t, true
	}
	if math.IsNaN(exposure) {
		return time.Time{}, false
	}
	return t.Add(-seconds(back * exposure)), true
}

// addTimeOfDay completes a date by the time in a card of its own: hh:mm:ss, or
// a number of seconds or hours of the day.
func (l *lookup) addTimeOfDay(date time.Time) (full time.Time, ok bool) {
	l.cards(synonyms.timeOfDay, func(k keyword, c card) bool {
		if d, valid := parseClock(strings.TrimSpace(c.value)); valid {
			full, ok = date.Add(d), true
			return true
		}
		if t, hasTime, valid := parseMoment(c.value); valid && hasTime {
			full, ok = t, true
			return true
		}
		v, _, valid := parseNumber(c.value)
		if !valid || v < 0 || v >= 86400 {
			return false
		}
		if v < 24 && !strings.HasPrefix(k.name, "TM-") {
			v *= 3600
		}
		full, ok = date.Add(seconds(v)), true
		return true
	})
	return full, ok
}

// julianStart takes the start from MJD-OBS or JD.
func (l *lookup) julianStart(exposure float64) (found time.Time) {
	read := func(keys []keyword, offset float64) {
		l.cards(keys, func(k keyword, c card) bool {
			v, _, ok := parseNumber(c.value)
			if ok && v > 2400000 {
				v -= 2400000.5 // some MJD cards hold the full Julian date
			} else if offset != 0 {
				return false
			}
			if !ok || v < 30000 || v > 90000 || v == math.Trunc(v) {
				return false
			}
			t := time.Unix(0, 0).UTC().Add(seconds((v - 40587) * 86400)) // MJD 40587 is 1970-01-01
			t, ok = shiftToStart(k.name, c.comment, t.Round(time.Millisecond), exposure)
			found = t
			return ok
		})
	}
	read(synonyms.mjdStart, 0)
	if found.IsZero() {
		read(synonyms.jdStart, 2400000.5)
	}
	return found
}

// parseMoment reads a date, with the time of day after a T or a blank if there
// is one.
func parseMoment(s string) (t time.Time, hasTime, ok bool) {
	s = strings.TrimSpace(s)
	datePart, clock, cut := strings.Cut(s, "T")
	if !cut {
		datePart, clock, cut = strings.Cut(s, " ")
	}
	t, ok = parseDate(datePart)
	if !ok || !cut || strings.TrimSpace(clock) == "" {
		return t, false, ok
	}
	clock, zone := cutZone(strings.TrimSpace(clock))
	d, ok := parseClock(clock)
	return t.Add(d - zone), true, ok
}

// cutZone takes a zone off a time of day, which the standard does not allow
// but some writers add: Z, UTC, +hh:mm.
func cutZone(clock string) (string, time.Duration) {
	clock = strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(clock, "Z"), "UTC"), "UT"))
	i := strings.LastIndexAny(clock, "+-")
	if i < 5 {
		return clock, 0
	}
	h, m, _ := strings.Cut(clock[i+1:], ":")
	if m == "" && len(h) == 4 {
		h, m = h[:2], h[2:]
	}
	hh, err := strconv.Atoi(h)
	mm, err2 := strconv.Atoi("0" + m)
	if err != nil || err2 != nil || hh > 14 {
		return clock, 0
	}
	zone := time.Duration(hh)*time.Hour + time.Duration(mm)*time.Minute
	if clock[i] == '-' {
		zone = -zone
	}
	return clock[:i], zone
}

// parseDate reads YYYY-MM-DD, YYYY/MM/DD, DD/MM/YY (of 19YY) and DD/MM/YYYY.
func parseDate(s string) (time.Time, bool) {
	parts := strings.FieldsFunc(s, func(r rune) bool { return r == '-' || r == '/' || r == '.' })
	if len(parts) != 3 {
		return time.Time{}, false
	}
	var n [3]int
	for i, p := range parts {
		v, err := strconv.Atoi(p)
		if err != nil || len(p) > 4 {
			return time.Time{}, false
		}
		n[i] = v
	}
	year, month, day := n[0], n[1], n[2]
	if len(parts[0]) <= 2 {
		year, day = n[2], n[0]
		if len(parts[2]) <= 2 {
			year += 1900
		}
	}
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	valid := year >= 1900 && year < 2200 && t.Day() == day && int(t.Month()) == month
	return t, valid
}

// parseClock reads hh:mm, hh:mm:ss and fractions of the second.
func parseClock(s string) (time.Duration, bool) {
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	h, err1 := strconv.Atoi(strings.TrimSpace(parts[0]))
	m, err2 := strconv.Atoi(parts[1])
	sec := 0.0
	if len(parts) == 3 {
		v, unit, ok := parseNumber(parts[2])
		if !ok || unit != "" {
			return 0, false
		}
		sec = v
	}
	if err1 != nil || err2 != nil || h < 0 || h > 24 || m < 0 || m > 59 || sec < 0 || sec >= 61 {
		return 0, false
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + seconds(sec), true
}

// seconds is a duration, to the nanosecond.
func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
