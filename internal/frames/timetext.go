package frames

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// moment is a time as a header value tells it.
type moment struct {
	t     time.Time
	timed bool // with a time of day; else t is midnight
	zoned bool // with a zone: t is UTC for certain
}

// clockStart finds where the time of day begins: hours and a colon, or six
// digits behind a T.
var clockStart = regexp.MustCompile(`\d{1,2}\s*:|(?:T|^\d{8})\d{4,6}(?:[.,]\d+)?`)

// parseMoment reads a date, with the time of day after a T, blanks, or both, if
// there is one.
func parseMoment(s string) (m moment, ok bool) {
	s = strings.TrimSpace(s)
	date, clock := s, ""
	if i := clockStart.FindStringIndex(s); i != nil && i[0] > 0 {
		date, clock = s[:i[0]], strings.TrimLeft(s[i[0]:], "T")
	}
	day, fraction, ok := parseDate(strings.Trim(date, " T,_\t"))
	m = moment{t: day.Add(fraction), timed: fraction > 0}
	if !ok || strings.TrimSpace(clock) == "" {
		return m, ok
	}
	d, zone, zoned, ok := parseClock(clock)
	return moment{day.Add(d - zone), true, zoned}, ok
}

// zoneSuffix is a zone behind a time of day, which the standard does not allow
// but some writers add: Z, UTC, GMT, +hh:mm, -hhmm, +hh.
var zoneSuffix = regexp.MustCompile(`(?i)\s*(?:\(?(Z|UTC?|GMT)\)?)?\s*(?:([+-])\s*(\d{1,2})(?::?(\d{2}))?)?$`)

// cutZone takes a zone off a time of day; said tells that there was one.
func cutZone(clock string) (rest string, zone time.Duration, said bool) {
	m := zoneSuffix.FindStringSubmatchIndex(clock)
	part := func(i int) string {
		if m[2*i] < 0 {
			return ""
		}
		return clock[m[2*i]:m[2*i+1]]
	}
	hours, _ := strconv.Atoi(part(3))
	minutes, _ := strconv.Atoi(part(4))
	if part(1) == "" && part(2) == "" || hours > 14 || minutes > 59 {
		return strings.TrimSpace(clock), 0, false
	}
	zone = time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute
	if part(2) == "-" {
		zone = -zone
	}
	return strings.TrimSpace(clock[:m[0]]), zone, true
}

// halfDay is the half of a clock of twelve hours.
var halfDay = regexp.MustCompile(`(?i)\s*([ap])\.?\s?m\.?$`)

// compactClock is hhmm or hhmmss without colons.
var compactClock = regexp.MustCompile(`^\d{4}(?:\d{2}(?:[.,]\d+)?)?$`)

// parseClock reads hh:mm, hh:mm:ss and hhmmss with fractions of the second,
// AM or PM, and a zone.
func parseClock(s string) (d, zone time.Duration, zoned, ok bool) {
	s, zone, zoned = cutZone(strings.TrimSpace(s))
	afternoon := ""
	if m := halfDay.FindStringSubmatchIndex(s); m != nil {
		afternoon, s = strings.ToLower(s[m[2]:m[3]]), s[:m[0]]
	}
	if compactClock.MatchString(s) {
		s = s[:2] + ":" + s[2:4] + ":" + s[4:]
		s = strings.TrimSuffix(s, ":")
	}
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, 0, false, false
	}
	h, err1 := strconv.Atoi(strings.TrimSpace(parts[0]))
	m, err2 := strconv.Atoi(strings.TrimSpace(parts[1]))
	sec := 0.0
	if len(parts) == 3 {
		v, unit, numeric := parseNumber(parts[2])
		if !numeric || unit != "" {
			return 0, 0, false, false
		}
		sec = v
	}
	if afternoon != "" {
		if h < 1 || h > 12 {
			return 0, 0, false, false
		}
		h %= 12
		if afternoon == "p" {
			h += 12
		}
	}
	if err1 != nil || err2 != nil || h < 0 || h > 24 || m < 0 || m > 59 || sec < 0 || sec >= 61 {
		return 0, 0, false, false
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + seconds(sec), zone, zoned, true
}

var monthNames = map[string]int{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12}

// dateParts parts a date at everything that is neither letter nor digit.
var dateParts = regexp.MustCompile(`\d+|[A-Za-z]+`)

// parseDate reads YYYY-MM-DD, YYYYMMDD, DD/MM/YY, DD/MM/YYYY and, where the
// first cannot be a month's day beside it, MM/DD/YYYY; months by name; and a
// fraction of the day behind the ISO form. FITS 4.0 section 4.4.2.1 puts a
// year of two digits into 19YY; since no digital camera was pointed at the sky
// before 1970, smaller ones are of this century.
func parseDate(s string) (day time.Time, fraction time.Duration, ok bool) {
	parts := dateParts.FindAllString(s, -1)
	if len(parts) == 1 && len(parts[0]) == 8 && isDigits(parts[0]) {
		parts = []string{s[:4], s[4:6], s[6:]}
	}
	if len(parts) == 4 && len(parts[0]) == 4 && strings.HasSuffix(s, "."+parts[3]) { // 2021-09-17.4019
		f, err := strconv.ParseFloat("0."+parts[3], 64)
		if err != nil {
			return time.Time{}, 0, false
		}
		fraction, parts = seconds(math.Round(f*86400*1000)/1000), parts[:3]
	}
	if len(parts) == 4 && len(parts[0]) >= 3 && monthNames[strings.ToLower(parts[0][:3])] == 0 {
		parts = parts[1:] // the day of the week
	}
	if len(parts) != 3 {
		return time.Time{}, 0, false
	}
	var n [3]int
	named := -1
	for i, p := range parts {
		v, err := strconv.Atoi(p)
		if err != nil && len(p) >= 3 && named < 0 {
			v, named = monthNames[strings.ToLower(p[:3])], i
			err = nil
		}
		if err != nil || named != i && len(p) > 4 {
			return time.Time{}, 0, false
		}
		n[i] = v
	}
	year, month, dayOf := order(parts, n, named, strings.Contains(s, "/"))
	if year < 100 {
		if year += 1900; year < 1970 {
			year += 100
		}
	}
	day = time.Date(year, time.Month(month), dayOf, 0, 0, 0, 0, time.UTC)
	return day, fraction, year >= 1900 && year < 2200 && day.Day() == dayOf && int(day.Month()) == month
}

// order tells which of three parts of a date is what.
func order(parts []string, n [3]int, named int, slashes bool) (year, month, day int) {
	switch {
	case named == 0: // September 17, 2021
		return n[2], n[0], n[1]
	case len(parts[0]) > 2 || named < 0 && !slashes && len(parts[2]) <= 2 && n[1] <= 12 && n[2] <= 31 && n[2] > 0:
		return n[0], n[1], n[2]
	case named < 0 && n[1] > 12 && n[0] <= 12: // MM/DD/YYYY
		return n[2], n[0], n[1]
	default:
		return n[2], n[1], n[0]
	}
}

// seconds is a duration, to the nanosecond.
func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
