package sky

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
)

var digits = regexp.MustCompile(`[0-9]+`)

// byNumbers compares names so that 9 comes before 10.
func byNumbers(a, b Shot) int {
	x, y := digits.FindAllString(a.Name, -1), digits.FindAllString(b.Name, -1)
	return slices.CompareFunc(x, y, func(x, y string) int {
		x, y = strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
		return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y))
	})
}

// checkOrder follows every numbered series: its times must not run backwards.
func checkOrder(shots []Shot) (found []fact.Fact) {
	series := map[string][]Shot{}
	var names []string
	for _, s := range shots {
		key := string(s.Camera) + "\x00" + digits.ReplaceAllString(s.Name, "#")
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
				found = append(found, backwards(DateKept, a, b))
			default:
				found = append(found, backwards(ClockJumped, a, b))
			}
		}
	}
	return found
}

func backwards(code fact.Code, a, b Shot) fact.Fact {
	back := a.Start.Sub(b.Start).Round(time.Minute)
	return fact.Of(code, fact.Text("file", b.Name), fact.Text("before", a.Name),
		fact.Count("hours", int(back.Hours())), fact.Count("minutes", int(back.Minutes())%60))
}

// checkOverlap finds exposures of one camera that overlap in time. Equal starts
// are the same exposure twice, which others report.
func checkOverlap(shots []Shot) []fact.Fact {
	const slack = 2 * time.Second // of headers that round to whole seconds
	shots = slices.Clone(shots)
	slices.SortStableFunc(shots, func(a, b Shot) int {
		return cmp.Or(cmp.Compare(a.Camera, b.Camera), a.Start.Compare(b.Start))
	})
	overlaps := 0
	var first [2]string
	for i := 1; i < len(shots); i++ {
		a, b := shots[i-1], shots[i]
		if a.Camera != b.Camera || !(a.Exposure > 0) || a.Start.Equal(b.Start) {
			continue
		}
		if a.Start.Add(seconds(a.Exposure)).Sub(b.Start) > slack {
			if overlaps == 0 {
				first = [2]string{a.Name, b.Name}
			}
			overlaps++
		}
	}
	if overlaps == 0 {
		return nil
	}
	return []fact.Fact{fact.Of(ExposuresOverlap, fact.Count("pairs", overlaps), fact.Text("file", first[0]), fact.Text("other", first[1]))}
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
