package say

import (
	"fmt"
	"io"
	"strings"

	"fitsqa/internal/compare"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/stats"
)

// Compared writes a comparison for people.
func Compared(w io.Writer, r compare.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (right) beside %s (left)\n", frames.Printable(r.Second), frames.Printable(r.First))
	for _, p := range r.Pairs {
		fmt.Fprintf(&b, "\n%s %s (%s) beside %s %s (%s)\n", frames.Printable(string(p.Second.Target)), frames.Printable(string(p.Second.Filter)),
			fact.Plural(p.Second.Subs, "sub"), frames.Printable(string(p.First.Target)), frames.Printable(string(p.First.Filter)), fact.Plural(p.First.Subs, "sub"))
		compareLines(&b, p.Lines)
		for _, s := range compareSentences(p) {
			fmt.Fprintf(&b, "  %s\n", s)
		}
	}
	if len(r.Camera) > 0 {
		b.WriteString("\nCamera\n")
		compareLines(&b, r.Camera)
	}
	for _, a := range r.Alone {
		fmt.Fprintf(&b, "\n%s has none beside it\n", frames.Printable(a))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func compareLines(b *strings.Builder, lines []compare.Line) {
	for _, l := range lines {
		fmt.Fprintf(b, "  %-30s %20s %20s", frames.Printable(strings.TrimSpace(l.Figure+" "+l.Unit)), withError(l.First), withError(l.Second))
		if l.Ratio.OK() {
			fmt.Fprintf(b, "  ratio %s", withError(l.Ratio))
		}
		b.WriteString("\n")
	}
}

func withError(v stats.Value) string {
	if !v.OK() {
		return "-"
	}
	if text := v.PlusMinus(); text != "" {
		return text
	}
	return fmt.Sprintf("%.4g", v.V)
}

func compareSentences(p compare.Pair) (list []string) {
	if p.Throughput.OK() {
		list = append(list, "the right passes "+withError(p.Throughput)+" of the stars' light")
	} else {
		list = append(list, "how much of the light the right passes cannot be told: "+Fact(p.Throughput.Why))
	}
	if p.SkyRatio.OK() {
		list = append(list, "and "+withError(p.SkyRatio)+" of the sky's")
	}
	if p.Continuum.OK() {
		list = append(list, "in equal time: "+withError(p.Continuum)+" times the signal to noise, for light like the stars'")
	}
	switch {
	case p.LineLight.OK():
		list = append(list, "for a line that both pass alike: "+withError(p.LineLight)+" times the signal to noise")
	case !p.Quiet.OK():
		list = append(list, "noise in equal time cannot be told: "+Fact(p.Quiet.Why))
	}
	return list
}
