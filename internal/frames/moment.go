package frames

import (
	"math"
	"strings"
	"time"

	"fitsqa/internal/fact"
)

// start finds when the exposure began, UTC, and how that is known. FITS 4.0
// section 9.1: DATE-OBS is ISO 8601 without a zone, UTC by default; older files
// put the time into a card of its own. Without either, the Julian date; at last
// a card of local time with its zone.
func (l *lookup) start(m *Meta) {
	m.Zone = l.zone()
	key, found := l.dated(synonyms.dateTime, synonyms.timeOfDay, m.Exposure)
	if found.t.IsZero() {
		found = moment{t: l.julianStart(m.Exposure)}
	}
	if found.t.IsZero() {
		if local := l.localStart(m); !local {
			l.timeless()
		}
		return
	}
	m.Start, m.StartZoned = found.t.Add(-l.timeScale(key)), found.zoned || strings.Contains(key, "UT")
	m.between = found.slashed
	if found.local != "" {
		l.warn(ZoneAmbiguous, fact.Text("key", key), fact.Text("zone", Printable(found.local)))
	}
	if c, ok := l.h.get(key); ok && !m.StartZoned && (saysLocal(c.comment) || found.local != "" || l.timeSystem() == "LOCAL") {
		l.takeLocal(m, m.Start)
		return
	}
	l.utcBeside(m)
}

func (l *lookup) timeless() {
	l.cards(synonyms.dateTime, func(k keyword, c card) bool {
		m, ok := parseMoment(c.value)
		if ok && !m.timed {
			l.warn(CardNoTime, fact.Text("key", k.name))
		}
		return ok
	})
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

// timeSystem is TIMESYS without where it is realised.
func (l *lookup) timeSystem() string {
	c, _ := l.h.get("TIMESYS")
	scale, _, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(c.value)), "(")
	return scale
}

// timeScale is by how much the header's times are ahead of UTC, by TIMESYS (FITS
// 4.0 section 9.2.1; Rots et al. 2015, A&A 574, A36, table 2). TAI has been 37 s
// ahead since 2017, TT 32.184 s more, GPS 19 s less.
func (l *lookup) timeScale(key string) time.Duration {
	if strings.Contains(key, "UT") {
		return 0
	}
	switch l.timeSystem() {
	case "TAI", "IAT":
		return 37 * time.Second
	case "TT", "TDT", "ET", "TDB", "TCB", "TCG":
		return seconds(69.184)
	case "GPS":
		return 18 * time.Second
	}
	return 0
}
