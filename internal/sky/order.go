package sky

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
)

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
		fact.Plural(overlaps, "pair"), first)}
}

func hoursMinutes(d time.Duration) string {
	d = d.Round(time.Minute)
	return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
}

func trimNumber(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0") }
