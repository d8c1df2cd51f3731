package report

import (
	"fmt"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/stats"
)

// motionTexts are, of each target, the figures of its motion and what they mean.
func motionTexts(r *night.Result) []string {
	var texts []string
	for _, m := range r.Motions {
		if text := motionFigures(m); text != "" {
			texts = append(texts, targetName(m)+": "+text)
		}
		texts = append(texts, motionWords(m)...)
	}
	return texts
}

func targetName(m night.MotionReport) string { return orNone(m.Target, "(no target)") }

func motionFigures(m night.MotionReport) string {
	var parts []string
	for _, f := range []struct {
		name, unit string
		value      stats.Value
	}{{"dither", "px rms", m.Dither}, {"drift", "px/h", m.Drift}, {"field rotation", "°/h", m.Rotation}} {
		if f.value.OK() {
			parts = append(parts, fmt.Sprintf("%s %s %s", f.name, measured(f.value), f.unit))
		}
	}
	return strings.Join(parts, ", ")
}

func motionWords(m night.MotionReport) []string {
	var missing shared
	for _, f := range []struct {
		name  string
		value stats.Value
	}{{"dither", m.Dither}, {"drift", m.Drift}, {"field rotation", m.Rotation}, {"error of the polar axis", m.PolarError}} {
		if !f.value.OK() {
			missing.add(f.name, "cannot be told: "+newFigure(f.value).Reason)
		}
	}
	words := append(say.Each(m.Findings), missing.texts()...)
	for i := range words {
		words[i] = targetName(m) + ": " + words[i]
	}
	return words
}

type motionRow struct {
	Target, Subs, Dither, Drift, Rotation, Polar string
}

// noteTexts are the notes on the measurement of the subs. Notes that differ in
// their numbers alone are said once, in the words of the first sub that has them.
func noteTexts(r *night.Result) []string {
	type note struct {
		first, text string
		subs        int
	}
	var notes []*note
	of := map[fact.Code]*note{}
	for _, s := range r.Subs {
		if s.Field == nil {
			continue
		}
		for _, f := range s.Field.Notes {
			if of[f.Code] == nil {
				of[f.Code] = &note{first: frames.Printable(s.File), text: say.Fact(f)}
				notes = append(notes, of[f.Code])
			}
			of[f.Code].subs++
		}
	}
	var texts []string
	for _, n := range notes {
		name := n.first
		if n.subs > 1 {
			name += fmt.Sprintf(" and %s more", fact.Plural(n.subs-1, "sub"))
		}
		texts = append(texts, name+": "+n.text)
	}
	return texts
}
