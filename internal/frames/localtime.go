package frames

import (
	"math"
	"strings"
	"time"

	"fitsqa/internal/fact"
)

// zone is by how many hours the observer's clock is ahead of UTC by a card of
// its own; NaN when there is none. Some writers count west as positive: where the
// comment does not say so, the sky has to bear it out.
func (l *lookup) zone() float64 {
	hours := math.NaN()
	l.cards(synonyms.zone, func(_ keyword, c card) bool {
		h, ok := parseZone(c.value)
		if east, stated := positiveWay(c.comment); ok && (stated && !east || !stated && h > 0 && onlyWest(c.comment)) {
			h = -h
		}
		if ok {
			hours = h
		}
		return ok
	})
	return hours
}

// parseZone reads -7, "UTC+2", "+05:30", "-0700", and whole numbers of minutes or
// seconds.
func parseZone(s string) (hours float64, ok bool) {
	s = strings.TrimSpace(s)
	for _, p := range []string{"UTC", "GMT", "UT"} {
		if rest, cut := strings.CutPrefix(strings.ToUpper(s), p); cut {
			if s = strings.TrimSpace(rest); s == "" {
				return 0, true
			}
			break
		}
	}
	if v, unit, numeric := parseNumber(s); numeric && (unit == "" || strings.HasPrefix(strings.ToLower(unit), "h")) {
		switch {
		case math.Abs(v) <= 14:
			return v, true
		case len(strings.TrimLeft(s, "+-")) == 4 && math.Abs(v) <= 1400 && (s[0] == '+' || s[0] == '-'): // -0700
			return math.Trunc(v/100) + math.Mod(v, 100)/60, true
		case math.Abs(v) <= 14*60:
			return v / 60, true
		case math.Abs(v) <= 14*3600:
			return v / 3600, true
		}
		return 0, false
	}
	if v, sexagesimal, numeric := parseAngle(s); numeric && sexagesimal && math.Abs(v) <= 14 {
		return v, true
	}
	return 0, false
}

func saysLocal(comment string) bool {
	comment = strings.ToLower(comment)
	return strings.Contains(comment, "local") && !strings.Contains(comment, "ut")
}

func (l *lookup) localStart(m *Meta) bool {
	_, found := l.dated(synonyms.localDate, synonyms.localClock, m.Exposure)
	if found.t.IsZero() {
		_, found = l.dated(synonyms.dateTime, synonyms.localClock, m.Exposure)
	}
	if found.t.IsZero() {
		return false
	}
	if found.zoned {
		m.Start, m.StartZoned = found.t, true
		return true
	}
	l.takeLocal(m, found.t)
	return true
}

// takeLocal turns a local time into UTC by the zone of its card, else by that of the
// site's longitude: borders and summer time put clocks an hour or two off that, seldom
// more (common practice, no source). A longitude that counts the other way gives the
// time and the place wrong alike, which leaves Sun and target where they were.
func (l *lookup) takeLocal(m *Meta, t time.Time) {
	code, zone := LocalInZone, m.Zone
	if math.IsNaN(zone) {
		code, zone = LocalByLongitude, math.Round(m.SiteLon/15)
	}
	if math.IsNaN(zone) {
		m.Start = t
		l.warn(LocalAsItStands)
		return
	}
	m.Start = t.Add(-seconds(zone * 3600))
	l.warn(code, fact.Text("zone", zoneText(zone)))
}

func zoneText(hours float64) string {
	return "UTC" + time.Date(2000, 1, 1, 0, 0, 0, 0, time.FixedZone("", int(math.Round(hours*3600)))).Format("-07:00")
}

// utcBeside compares a start that stands without a zone with cards that are UTC
// by name. A difference of whole quarters of an hour is a zone: the start was
// local. None at all is a start in UTC; anything else says nothing.
func (l *lookup) utcBeside(m *Meta) {
	if m.StartZoned || m.Start.IsZero() {
		return
	}
	midnight := m.Start.Truncate(24 * time.Hour)
	l.cards(synonyms.utcClock, func(k keyword, c card) bool {
		clock, ok := parseClock(c.value)
		if !ok {
			return false
		}
		ahead := (m.Start.Sub(midnight.Add(clock.d-clock.zone)) + 36*time.Hour) % (24 * time.Hour) // of UTC, plus 12 h
		ahead -= 12 * time.Hour
		quarter := ahead.Round(15 * time.Minute)
		if (ahead - quarter).Abs() > 45*time.Second {
			return true
		}
		m.StartZoned = true
		if quarter != 0 {
			m.Start = m.Start.Add(-quarter)
			l.warn(LocalByUTC, fact.Text("key", k.name), fact.Number("hours", quarter.Hours()))
		}
		return true
	})
}
