package report

import (
	"fmt"
	"io"
	"strings"

	"fitsqa/internal/ahead"
	"fitsqa/internal/frames"
	"fitsqa/internal/say"
)

// AheadText writes the plan of the coming nights for people, at most 80 columns
// wide. Times are local, those of darkness in UTC as well.
func AheadText(w io.Writer, o ahead.Outlook) error {
	t := &aheadWriter{w: w, Outlook: o}
	for _, sentence := range say.Outlook(o) {
		t.wrapped(sentence)
	}
	if len(o.Targets) > 0 {
		t.wrapped(say.TableOfTargets)
	}
	for _, n := range o.Nights {
		t.night(n)
	}
	return t.err
}

// aheadColumns is how wide the table may be.
const aheadColumns = 80

type aheadWriter struct {
	w io.Writer
	ahead.Outlook
	err error
}

func (t *aheadWriter) printf(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format, args...)
	}
}

// wrapped writes a sentence in lines that fit, with the indent that it begins
// with, the later ones indented further.
func (t *aheadWriter) wrapped(text string) {
	indent := text[:len(text)-len(strings.TrimLeft(text, " "))]
	words := strings.Fields(say.Typeset(text))
	line := indent + words[0]
	for _, word := range words[1:] {
		if len([]rune(line))+1+len([]rune(word)) > aheadColumns {
			t.printf("%s\n", line)
			line = indent + "  " + word
			continue
		}
		line += " " + word
	}
	t.printf("%s\n", line)
}

func (t *aheadWriter) night(n ahead.Night) {
	t.printf("\n%s\n", say.Typeset(say.Evening(n, t.Zone)))
	t.wrapped("  " + say.Darkness(n, t.Zone))
	if n.DarkHours == 0 {
		return
	}
	t.printf("  %-22s %-14s %5s %8s %9s %7s %5s\n", "target", fmt.Sprintf("above %.0f°", t.Options.MinAltitude), "hours", "moonless", "highest", "crosses", "Moon")
	for _, target := range n.Targets {
		t.target(target)
	}
	if idle := say.Idle(n, t.Options); idle != "" {
		t.wrapped("  " + idle)
	}
	for _, b := range n.Blocks {
		t.wrapped("  " + say.Block(b, t.Zone))
	}
}

func (t *aheadWriter) target(n ahead.TargetNight) {
	name, crosses := inMiddle(frames.Printable(string(n.Target)), 22), say.ZoneTime(n.Transit, t.Zone)
	if n.Hours == 0 {
		t.printf("  %-22s %-14s %5s %8s %9s %7s %4.0f°\n", name, "never", "-", "-", "-", crosses, n.MoonSeparation)
		return
	}
	t.printf("  %-22s %-14s %5.1f %8.1f %3.0f° %4.2f %7s %4.0f°\n", name, say.ZoneSpan(n.Up, t.Zone), n.Hours, n.Moonless,
		n.BestAltitude, n.BestAirmass, crosses, n.MoonSeparation)
}

func inMiddle(name string, n int) string {
	r := []rune(name)
	if len(r) <= n {
		return name
	}
	return string(r[:n/2]) + "…" + string(r[len(r)-(n-n/2-1):])
}
