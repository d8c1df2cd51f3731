package frames

import (
	"math"
	"regexp"
	"strings"
	"time"
)

// dated is the first usable date and time, shifted to the start, and its keyword.
func (l *lookup) dated(dates, clocks []keyword, exposure float64) (key string, found moment) {
	l.cards(dates, func(k keyword, c card) bool {
		m, ok := parseMoment(c.value)
		if ok && !m.timed {
			between := m.slashed
			m, ok = l.addTimeOfDay(m.t, clocks)
			if !ok {
				return false
			}
			m.slashed = between
		}
		if !ok {
			if k.name == "DATE-OBS" {
				l.warn(CardNoDate, ofCard(k.name, c)...)
			}
			return false
		}
		m.t, ok = shiftToStart(k.name, c.comment, m.t, exposure)
		if ok {
			key, found = k.name, m
		}
		return ok
	})
	return key, found
}

// addTimeOfDay completes a date by the time in a card of its own: hh:mm:ss, or
// a number of seconds or hours of the day.
func (l *lookup) addTimeOfDay(date time.Time, clocks []keyword) (full moment, ok bool) {
	l.cards(clocks, func(k keyword, c card) bool {
		if clock, valid := parseClock(c.value); valid {
			full, ok = clock.on(date, slashed{}), true
			return true
		}
		if m, valid := parseMoment(c.value); valid && m.timed {
			full, ok = m, true
			return true
		}
		v, _, valid := parseNumber(c.value)
		if !valid || v < 0 || v >= 86400 || k.name == "TIME" { // which may be an exposure
			return false
		}
		if v < 24 && !strings.HasPrefix(k.name, "TM-") {
			v *= 3600
		}
		full, ok = moment{t: date.Add(seconds(v)), timed: true}, true
		return true
	})
	return full, ok
}

// endOfExposure is how comments tell that a time is that of the end.
var endOfExposure = regexp.MustCompile(`\bend of (the )?(exp|obs|integ|read)|\b(exposure|observation|integration) (end|stop)|shutter clos`)

// shiftToStart moves a time of mid or end of exposure to its start.
func shiftToStart(key, comment string, t time.Time, exposure float64) (time.Time, bool) {
	back := 0.0
	comment = strings.ToLower(comment)
	switch {
	case strings.HasSuffix(key, "-END") || endOfExposure.MatchString(comment):
		back = 1
	case strings.HasSuffix(key, "-AVG") || strings.HasSuffix(key, "-MID") || strings.Contains(comment, "mid-exp") || strings.Contains(comment, "midpoint") || strings.Contains(comment, "mid exp"):
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
