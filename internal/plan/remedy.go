package plan

import (
	"sort"
	"strings"

	"fitsqa/internal/subs"
)

// remedy of each cause that an observer can do something about (common
// practice, no source).
var remedies = map[subs.Cause]string{
	subs.Soft:          "refocus after filter changes and as the tube cools",
	subs.Trailed:       "see to guiding, balance and shelter from wind",
	subs.Twilight:      "keep to the dark hours, twilight is good for flats",
	subs.Moonlit:       "keep narrow filters for moonlit hours",
	subs.WrongSettings: "check the sequence before it starts",
	subs.Truncated:     "check disk and transfer",
	subs.Unreadable:    "check disk and transfer",
}

// worthTelling is the share of the time shot from which a loss is worth a remedy.
const worthTelling = 0.05

// remedies name the losses that could be avoided, most first.
func (p *Plan) remedies() string {
	shot := 0.0
	lost := map[subs.Cause]float64{}
	for _, y := range p.Yields {
		shot += y.Shot
		for _, l := range y.Lost {
			lost[l.Cause] += l.Seconds
		}
	}
	var causes []subs.Cause
	for c, seconds := range lost {
		if remedies[c] != "" && seconds >= worthTelling*shot {
			causes = append(causes, c)
		}
	}
	if len(causes) == 0 {
		return ""
	}
	sort.Slice(causes, func(i, j int) bool {
		if lost[causes[i]] != lost[causes[j]] {
			return lost[causes[i]] > lost[causes[j]]
		}
		return causes[i] < causes[j]
	})
	var parts []string
	for _, c := range causes {
		parts = append(parts, duration(lost[c])+" of "+causeWord(c)+" ("+remedies[c]+")")
	}
	return "Time to win back: " + strings.Join(parts, ", ") + "."
}

// causeWord is a cause as people read it.
func causeWord(c subs.Cause) string {
	switch c {
	case subs.Soft:
		return "soft stars"
	case subs.Trailed:
		return "trailing"
	case subs.Truncated, subs.Unreadable:
		return "broken files"
	}
	return strings.ReplaceAll(string(c), "_", " ")
}
