package frames

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

type moment struct {
	t       time.Time
	timed   bool   // with a time of day; else t is midnight
	zoned   bool   // with a zone: t is UTC for certain
	local   string // a zone's name that may be one of several, or is not known here: t is local time
	slashed slashed
}

// slashed is what a date of day, month and year between slashes tells of its order.
type slashed struct {
	order dateOrder
	taken dateOrder     // how it was read where order is either
	other time.Duration // by how much the date moves when it is read the other way round; 0 unless order is either
}

type dateOrder int

const (
	noOrder dateOrder = iota // not of this form, or day and month are one number
	dayFirst
	monthFirst
	either
)

var (
	// clockStart finds where the time of day begins: hours and a colon or an h, six
	// digits behind a T, or hours, minutes and seconds with hyphens or points there.
	clockStart = regexp.MustCompile(`\d{1,2}\s*[:h]|(?:T|^\d{8})\d{4,6}(?:[.,]\d+)?|T\d{1,2}[-.]\d{2}[-.]\d{2}`)
)

// otherForms are rewritten before a moment is parted into date and time of day: a date
// with colons, as cameras write it; digits alone; the form of C's asctime (ISO C 7.27.3.1),
// with a zone or without; and the time of day first.
var otherForms = []struct {
	of *regexp.Regexp
	is string
}{
	{regexp.MustCompile(`^(\d{4}):(\d{1,2}):(\d{1,2})(\D|$)`), "$1-$2-$3$4"},
	{regexp.MustCompile(`^(\d{8})[-_ ](\d{6}(?:[.,]\d+)?)`), "${1}T$2"},
	{regexp.MustCompile(`^(?:[A-Za-z]{3},? +)?([A-Za-z]{3}) +(\d{1,2}) +(\d{1,2}:\d{2}(?::\d{2})?)(?: +([A-Z]{2,5}))? +(\d{4})$`), "$2-$1-$5 $3 $4"},
	{regexp.MustCompile(`^(\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?) +(\d{1,4}[-/.]\d.*)$`), "$2 $1"},
}

// parseMoment reads a date, with the time of day after a T, blanks, or both, if
// there is one.
func parseMoment(s string) (m moment, ok bool) {
	s = strings.TrimSpace(s)
	for _, form := range otherForms {
		s = strings.TrimSpace(form.of.ReplaceAllString(s, form.is))
	}
	date, clock := s, ""
	if i := clockStart.FindStringIndex(s); i != nil && i[0] > 0 {
		date, clock = s[:i[0]], strings.TrimLeft(s[i[0]:], "T")
	}
	c, clocked := parseClock(clock)
	day, fraction, between, ok := parseDate(strings.Trim(date, " T,_\t"), c.halves)
	m = moment{t: day.Add(fraction), timed: fraction > 0, slashed: between}
	if !ok || strings.TrimSpace(clock) == "" {
		return m, ok
	}
	return c.on(day, between), clocked
}

type clock struct {
	d, zone time.Duration // since midnight, and by how much it is ahead of UTC
	zoned   bool          // with a zone
	local   string        // see moment
	halves  bool          // with AM or PM
}

// on is the moment of the clock's time on a day.
func (c clock) on(day time.Time, between slashed) moment {
	return moment{t: day.Add(c.d - c.zone), timed: true, zoned: c.zoned, local: c.local, slashed: between}
}

// zoneSuffix is a zone behind a time of day, which the standard does not allow
// but some writers add: Z, UTC, GMT, +hh:mm, -hhmm, +hh.
var zoneSuffix = regexp.MustCompile(`(?i)\s*(?:\(?(Z|UTC?|GMT)\)?)?\s*(?:([+-])\s*(\d{1,2})(?::?(\d{2}))?)?$`)

// zoneNames are abbreviations that stand for one zone only, h ahead of UTC (IANA time
// zone data). CST, IST and BST stand for several.
var zoneNames = map[string]float64{
	"HST": -10, "AKST": -9, "AKDT": -8, "PST": -8, "PDT": -7, "MST": -7, "MDT": -6, "CDT": -5, "EST": -5, "EDT": -4, "NST": -3.5, "NDT": -2.5,
	"WET": 0, "WEST": 1, "CET": 1, "CEST": 2, "MEZ": 1, "MESZ": 2, "EET": 2, "EEST": 3, "MSK": 3, "SAST": 2,
	"JST": 9, "KST": 9, "AWST": 8, "ACST": 9.5, "ACDT": 10.5, "AEST": 10, "AEDT": 11, "NZST": 12, "NZDT": 13,
}

var zoneName = regexp.MustCompile(`(?i)\s*\b([a-z]{3,5})$`)

// cutName takes a zone's name off a time of day.
func cutName(clock string) (rest string, zone time.Duration, said bool, unknown string) {
	m := zoneName.FindStringSubmatchIndex(clock)
	if m == nil {
		return clock, 0, false, ""
	}
	rest, name := strings.TrimSpace(clock[:m[0]]), strings.ToUpper(clock[m[2]:m[3]])
	if name == "UTC" || name == "GMT" {
		return clock, 0, false, ""
	}
	if hours, ok := zoneNames[name]; ok {
		return rest, seconds(hours * 3600), true, ""
	}
	return rest, 0, false, name
}

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

var halfDay = regexp.MustCompile(`(?i)\s*([ap])\.?\s?m\.?$`)

var (
	// compactClock is hhmm or hhmmss without colons.
	compactClock = regexp.MustCompile(`^\d{4}(?:\d{2}(?:[.,]\d+)?)?$`)
	// otherClock is hours, minutes and seconds parted by letters, points, hyphens or blanks.
	otherClock = regexp.MustCompile(`(?i)^(\d{1,2})(?:\s*h\s*|[-. ])(\d{1,2})(?:\s*m\s*|[-. ])(\d{1,2}(?:[.,]\d+)?)(?:s\b)?`)
)

// parseClock reads hh:mm, hh:mm:ss and hhmmss with fractions of the second,
// AM or PM, and a zone.
func parseClock(s string) (c clock, ok bool) {
	s = otherClock.ReplaceAllString(strings.TrimSpace(strings.NewReplacer("(", " ", ")", " ").Replace(s)), "$1:$2:$3")
	s, c.zone, c.zoned, c.local = cutName(s)
	if !c.zoned && c.local == "" {
		s, c.zone, c.zoned = cutZone(s)
	}
	afternoon := ""
	if m := halfDay.FindStringSubmatchIndex(s); m != nil {
		afternoon, s = strings.ToLower(s[m[2]:m[3]]), s[:m[0]]
		c.halves = true
	}
	if compactClock.MatchString(s) {
		s = s[:2] + ":" + s[2:4] + ":" + s[4:]
		s = strings.TrimSuffix(s, ":")
	}
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return c, false
	}
	h, err1 := strconv.Atoi(strings.TrimSpace(parts[0]))
	m, err2 := strconv.Atoi(strings.TrimSpace(parts[1]))
	sec := 0.0
	if len(parts) == 3 {
		v, unit, numeric := parseNumber(parts[2])
		if !numeric || unit != "" {
			return c, false
		}
		sec = v
	}
	if afternoon != "" {
		if h < 1 || h > 12 {
			return c, false
		}
		h %= 12
		if afternoon == "p" {
			h += 12
		}
	}
	if err1 != nil || err2 != nil || h < 0 || h > 24 || m < 0 || m > 59 || sec < 0 || sec >= 61 {
		return c, false
	}
	c.d = time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + seconds(sec)
	return c, true
}

var monthNames = map[string]int{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12}

// dateParts parts a date at everything that is neither letter nor digit.
var dateParts = regexp.MustCompile(`\d+|[A-Za-z]+`)

// parseDate reads YYYY-MM-DD, YYYYMMDD, DD/MM/YY, DD/MM/YYYY and, where the
// first cannot be a month's day beside it, MM/DD/YYYY; months by name; and a
// fraction of the day behind the ISO form. FITS 4.0 section 4.4.2.1 puts a
// year of two digits into 19YY; since no digital camera was pointed at the sky
// before 1970, smaller ones are of this century. With points between them the day
// comes first; where day and month could be either, the month does beside a
// clock of twelve hours (common practice, no source). A day of the year behind the
// year is ISO 8601's too.
func parseDate(s string, halves bool) (day time.Time, fraction time.Duration, between slashed, ok bool) {
	parts, fraction := splitDate(s)
	if len(parts) != 3 {
		return time.Time{}, 0, slashed{}, false
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
			return time.Time{}, 0, slashed{}, false
		}
		n[i] = v
	}
	slashes := strings.Contains(s, "/")
	year, month, dayOf := order(parts, n, named, slashes, strings.Contains(s, "."))
	if slashes && named < 0 && len(parts[0]) <= 2 && len(parts[2]) == 4 {
		between.order = orderOf(n[0], n[1])
	}
	if between.order == either {
		if between.taken = dayFirst; halves {
			between.taken, month, dayOf = monthFirst, dayOf, month
		}
	}
	if year < 100 {
		if year += 1900; year < 1970 {
			year += 100
		}
	}
	day = time.Date(year, time.Month(month), dayOf, 0, 0, 0, 0, time.UTC)
	if between.order == either {
		between.other = time.Date(year, time.Month(dayOf), month, 0, 0, 0, 0, time.UTC).Sub(day)
	}
	ofYear := len(parts[0]) == 4 && len(parts[2]) == 3 && dayOf <= 366
	return day, fraction, between, year >= 1900 && year < 2200 && (ofYear && dayOf > 0 || day.Day() == dayOf && int(day.Month()) == month)
}

// splitDate gives the three parts of a date as they follow one another, of a day of
// the year with January between, and the fraction of the day behind them; none or
// others than three where it is no date.
func splitDate(s string) (parts []string, fraction time.Duration) {
	parts = dateParts.FindAllString(s, -1)
	if len(parts) == 1 && len(parts[0]) == 8 && isDigits(parts[0]) {
		parts = []string{s[:4], s[4:6], s[6:]}
	}
	if len(parts) == 4 && len(parts[0]) == 4 && strings.HasSuffix(s, "."+parts[3]) { // 2021-09-17.4019
		f, err := strconv.ParseFloat("0."+parts[3], 64)
		if err != nil {
			return nil, 0
		}
		fraction, parts = seconds(math.Round(f*86400*1000)/1000), parts[:3]
	}
	if len(parts) == 4 && len(parts[0]) >= 3 && monthNames[strings.ToLower(parts[0][:3])] == 0 {
		parts = parts[1:] // the day of the week
	}
	if len(parts) == 2 && len(parts[0]) == 4 && len(parts[1]) == 3 && isDigits(parts[0]+parts[1]) {
		parts = []string{parts[0], "1", parts[1]}
	}
	return parts, fraction
}

func orderOf(first, second int) dateOrder {
	switch {
	case first == second:
		return noOrder
	case first > 12:
		return dayFirst
	case second > 12:
		return monthFirst
	}
	return either
}

// order tells which of three parts of a date is what.
func order(parts []string, n [3]int, named int, slashes, points bool) (year, month, day int) {
	points = points && n[0] >= 1 && n[0] <= 31
	switch {
	case named == 0: // September 17, 2021
		return n[2], n[0], n[1]
	case len(parts[0]) > 2 || named < 0 && !slashes && !points && len(parts[2]) <= 2 && n[1] <= 12 && n[2] <= 31 && n[2] > 0:
		return n[0], n[1], n[2]
	case named < 0 && n[1] > 12 && n[0] <= 12: // MM/DD/YYYY
		return n[2], n[0], n[1]
	default:
		return n[2], n[1], n[0]
	}
}

// seconds is a duration, to the nanosecond.
func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
