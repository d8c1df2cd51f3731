package report

import (
	"fmt"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

func causeWords(causes []causeCount) string {
	parts := make([]string, len(causes))
	for i, c := range causes {
		parts[i] = fmt.Sprintf("%s %d", say.Cause(c.Cause), c.Subs)
		if c.LostS > 0 {
			parts[i] += " (" + say.Duration(c.LostS) + " lost)"
		}
	}
	return strings.Join(parts, ", ")
}

func groupName(g *subs.Group) string {
	exposure := "unknown exposure"
	if g.Exposure > 0 {
		exposure = exposureWords(g.Exposure) + " s"
	}
	return strings.Join(strings.Fields(fmt.Sprintf("%s %s %s", orNone(g.Target, "(no target)"), g.Filter, exposure)), " ")
}

func worthWords(w *worth.Answer) string {
	if w.Verdict() != "" {
		return say.Darks(w)
	}
	return "cannot tell: " + orNone(say.DarksOpen(w), "not measured")
}

func hours(seconds float64) string { return decimals(seconds/3600, 2) }

func orNone[S ~string](s S, none string) string {
	if shown := strings.TrimSpace(frames.Printable(string(s))); shown != "" {
		return shown
	}
	return none
}

func printable(texts []string) []string {
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = say.Typeset(frames.Printable(t))
	}
	return out
}
