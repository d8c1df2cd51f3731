package sky

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/names"
)

// Shot is what a sub tells about the clock that its header was written by.
type Shot struct {
	Name     string // file name with its folder; its numbers give the order of shooting
	Camera   names.Name
	Start    time.Time // as in the header, taken for UTC; zero when unknown
	Exposure float64   // s; NaN when unknown
	Stars    bool      // stars were found in it
	RA, Dec  float64   // degrees, J2000; NaN when unknown
}

// CheckClock says in words what is wrong with the times of a night's subs, as
// far as the sky and the order of shooting betray it. Nothing is corrected: a
// clock that is only suspected must not change figures.
//
// The sky betrays a clock when stars were recorded although the Sun was up or
// the target below the horizon. Local time written as UTC shows up so in most,
// not in all nights.
func CheckClock(shots []Shot, site *Site) []string {
	var timed []Shot
	for _, s := range shots {
		if !s.Start.IsZero() {
			timed = append(timed, s)
		}
	}
	var words []string
	if site.Valid() {
		words = append(words, checkSun(timed, site)...)
	}
	words = append(words, checkOrder(timed)...)
	return append(words, checkOverlap(timed)...)
}

func (s Shot) middle() time.Time {
	if s.Exposure > 0 {
		return s.Start.Add(seconds(s.Exposure / 2))
	}
	return s.Start
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

func checkSun(shots []Shot, site *Site) (words []string) {
	p := site.place()
	var withStars []Shot
	var betrayed, daylight int
	var example string
	for _, s := range shots {
		if s.Stars {
			withStars = append(withStars, s)
			if why := p.impossible(s, 0, starsEnd); why != "" {
				if betrayed == 0 {
					example = why
				}
				betrayed++
			}
		} else if p.sunAlt(s.middle()) > AtSunset {
			daylight++
		}
	}
	if daylight > 0 {
		words = append(words, fmt.Sprintf("%s without stars taken with the Sun up, by the times in the headers; "+
			"never point an unfiltered telescope near the Sun", count(daylight, "sub")))
	}
	if betrayed == 0 {
		return words
	}
	claim := fmt.Sprintf("the times in the headers cannot be UTC: %d of %s with stars are impossible by them (%s)",
		betrayed, count(len(withStars), "sub"), example)
	if offset, ok := p.likelyOffset(withStars); ok {
		direction := "ahead of"
		if offset < 0 {
			direction = "behind"
		}
		return append(words, fmt.Sprintf("%s; with a clock %s h %s UTC, as a local time written as UTC would be, "+
			"all of them fall into darkness; figures that need the time are computed from the headers as they stand",
			claim, trimNumber(math.Abs(offset.Hours())), direction))
	}
	return append(words, claim+"; no whole or half hour off puts all of them into darkness, so date, clock, site or coordinates are wrong")
}

// starsEnd is the Sun's altitude above which no sub shows stars enough to be
// measured (common practice, no source).
const starsEnd = -3.0

// impossible says why a shot with stars cannot have been taken when its clock,
// if that is ahead of UTC by offset, says; "" when it can. The Sun must be below sunLimit.
func (p place) impossible(s Shot, offset time.Duration, sunLimit float64) string {
	t := s.middle().Add(-offset)
	now := at(t)
	if sun := p.see(now, now.sun).alt; sun > sunLimit {
		return fmt.Sprintf("%s: Sun at %+.0f°", t.Format("2006-01-02 15:04"), sun)
	}
	if !math.IsNaN(s.RA) && !math.IsNaN(s.Dec) {
		if alt := p.see(now, now.fromJ2000(s.RA, s.Dec)).alt; alt < -1 {
			return fmt.Sprintf("%s: target %.0f° below the horizon", t.Format("2006-01-02 15:04"), -alt)
		}
	}
	return ""
}

// likelyOffset is the whole or half hour by which the clock may be ahead of UTC
// so that every shot is possible: of all that fit, the one nearest to the
// site's zone and summer time.
func (p place) likelyOffset(shots []Shot) (time.Duration, bool) {
	zone := p.lon.Deg()/15 + 0.5 // between standard and summer time
	best, found := time.Duration(0), false
	for half := -28; half <= 28; half++ {
		offset := time.Duration(half) * 30 * time.Minute
		off := func(o time.Duration) float64 { return math.Abs(o.Hours() - zone) }
		if found && off(offset) >= off(best) {
			continue
		}
		if !slices.ContainsFunc(shots, func(s Shot) bool { return p.impossible(s, offset, AtCivil) != "" }) {
			best, found = offset, true
		}
	}
	return best, found
}

var digits = regexp.MustCompile(`[0-9]+`)

// series is the name with its numbers masked: shots of one series differ in
// numbers only.
func (s Shot) series() string {
	return string(s.Camera) + "\x00" + digits.ReplaceAllString(s.Name, "#")
}

// byNumbers compares names so that 9 comes before 10.
func byNumbers(a, b Shot) int {
	x, y := digits.FindAllString(a.Name, -1), digits.FindAllString(b.Name, -1)
	return slices.CompareFunc(x, y, func(x, y string) int {
		x, y = strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
		return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y))
	})
}

// checkOrder follows every numbered series: its times must not run backwards.
func checkOrder(shots []Shot) (words []string) {
	series := map[string][]Shot{}
	var names []string
	for _, s := range shots {
		key := s.series()
		if series[key] == nil {
			names = append(names, key)
		}
		series[key] = append(series[key], s)
	}
	for _, key := range names {
		list := series[key]
		slices.SortStableFunc(list, byNumbers)
		for i := 1; i < len(list); i++ {
			a, b := list[i-1], list[i]
			back := a.Start.Sub(b.Start)
			switch {
			case back <= 0 || back > 36*time.Hour:
				// forwards, or a series whose numbers started again another night
			case back > 20*time.Hour && b.Start.Hour() < 12 && a.Start.Hour() >= 12 && a.Start.YearDay() == b.Start.YearDay():
				words = append(words, fmt.Sprintf("%s follows %s but is dated %s earlier, with the same date: the date was not changed at midnight, "+
					"and subs from there on seem to carry yesterday's", b.Name, a.Name, hoursMinutes(back)))
			default:
				words = append(words, fmt.Sprintf("clock jump: %s follows %s but starts %s earlier", b.Name, a.Name, hoursMinutes(back)))
			}
		}
	}
	return words
}

// checkOverlap finds exposures of one camera that overlap in time. Equal starts
// are the same exposure twice, which others report.
func checkOverlap(shots []Shot) []string {
	const slack = 2 * time.Second // of headers that round to whole seconds
	shots = slices.Clone(shots)
	slices.SortStableFunc(shots, func(a, b Shot) int {
		return cmp.Or(cmp.Compare(a.Camera, b.Camera), a.Start.Compare(b.Start))
	})
	overlaps, first := 0, ""
	for i := 1; i < len(shots); i++ {
		a, b := shots[i-1], shots[i]
		if a.Camera != b.Camera || !(a.Exposure > 0) || a.Start.Equal(b.Start) {
			continue
		}
		if a.Start.Add(seconds(a.Exposure)).Sub(b.Start) > slack {
			if overlaps == 0 {
				first = fmt.Sprintf("%s and %s", a.Name, b.Name)
			}
			overlaps++
		}
	}
	if overlaps == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s of one camera overlap in time, first %s: the clock jumped, or exposure times or camera names are wrong",
		count(overlaps, "pair"), first)}
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func hoursMinutes(d time.Duration) string {
	d = d.Round(time.Minute)
	return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
}

func trimNumber(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0") }
