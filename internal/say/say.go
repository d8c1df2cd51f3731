// Package say puts a night's result into the sentences that stand first: what to
// believe, what the night yielded, what went wrong and what that cost, what to do
// this morning and what next. Text, page and JSON show the same sentences.
//
// Names and errors pass frames.Printable here: the sentences hold no-break spaces
// and go to terminals as they are.
//
// It measures nothing: every number comes from the result, and is written with as
// many digits as it deserves. Costs are exposure time: what was shot less what is
// usable is the sum over what went wrong.
package say

import (
	"fmt"
	"slices"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

// Answer is what an experienced friend would say first.
type Answer struct {
	Depth       string   // how bright the sky was and how deep the stacks go; "" when the field was not found on the sky
	Poor        string   // why the night is poor as a whole; "" when it is not
	Believe     []string // what voids figures
	Trouble     []Trouble
	Less        string // why the subs that stay are worth less than their time; "" when they are not
	Morning     []string
	Next        []string
	Calibration []string
}

// Trouble is one thing that went wrong, told once.
type Trouble struct {
	Cause         subs.Cause
	Subs          []*night.Sub // that it leads, in time order
	Culled        int
	Doubtful      int
	CulledSeconds float64 // exposure of the culled ones
	Sentence      string
}

// Of says it. The folder of the reports is named in commands.
func Of(r *night.Result, folder string) Answer {
	clock := newClock(r)
	a := Answer{Believe: believe(r), Trouble: troubles(r, clock), Depth: depth(r), Less: strings.Join(slices.DeleteFunc([]string{less(r), beside(r), cloudBeside(r)}, func(s string) bool { return s == "" }), " "), Morning: morning(r, folder), Next: next(r), Calibration: calibration(r)}
	a.Poor = poor(r, a.Trouble, clock)
	a.typeset()
	return a
}

// typeset sets sentences of other packages as those of this one are set.
func (a *Answer) typeset() {
	for _, part := range [][]string{a.Believe, a.Next, a.Calibration} {
		for i := range part {
			part[i] = Typeset(part[i])
		}
	}
	for i := range a.Trouble {
		a.Trouble[i].Sentence = Typeset(a.Trouble[i].Sentence)
	}
}

// believe are the warnings that void figures, and those of the reports as a whole.
func believe(r *night.Result) []string {
	var texts []string
	if text := unread(r); text != "" {
		texts = append(texts, text)
	}
	if r.Settings.NoLedger != "" {
		texts = append(texts, "The ledger could not be read, so that earlier nights are unknown: "+frames.Printable(r.Settings.NoLedger)+".")
	}
	for _, text := range each(r.First) {
		texts = append(texts, frames.Printable(text))
	}
	return texts
}

// unread tells of the subs that have no verdict for no fault of theirs.
func unread(r *night.Result) string {
	unjudged, system := 0, 0
	for _, s := range r.Subs {
		if s.Verdict != subs.NotJudged {
			continue
		}
		unjudged++
		if s.Frame != nil && frames.SystemError(s.Frame.Err) {
			system++
		}
	}
	if unjudged == 0 {
		return ""
	}
	text := fmt.Sprintf("Not judged: %s could not be read and %s left in place", count(unjudged, "sub"), verb(unjudged, "is", "are"))
	switch {
	case system == unjudged:
		text += "; try again, or look at the disk"
	case system > 0:
		text += fmt.Sprintf("; %d may be the disk's fault: try again", system)
	}
	return text + "."
}

// mostly is the share of a night's subs from which one trouble is the night's.
const mostly = 0.5

// poor tells of a night that one thing spoiled as a whole.
func poor(r *night.Result, all []Trouble, c clock) string {
	judged := 0
	for _, s := range r.Subs {
		if s.Verdict != subs.NotJudged {
			judged++
		}
	}
	for _, t := range all {
		if t.Cause == subs.Unreadable || t.Cause == subs.Truncated || t.Cause == subs.Soft && t.pixelLimit().Code != "" {
			continue // says nothing about the night
		}
		if n := len(t.Subs); n >= 3 && float64(n) > mostly*float64(judged) {
			what := "A poor night"
			if c.dated() {
				what = "Poor as a whole"
			}
			return fmt.Sprintf("%s: %d of %s %s", what, n, count(judged, "sub"), t.many())
		}
	}
	return poorGroups(r)
}

func poorGroups(r *night.Result) string {
	if r.Verdicts == nil {
		return ""
	}
	of := map[subs.Cause][]string{}
	var causes []subs.Cause
	for _, g := range r.Verdicts.Groups {
		for _, c := range g.Poor {
			name := groupName(g)
			if c == subs.Soft {
				name += softness(g)
			}
			if of[c] == nil {
				causes = append(causes, c)
			}
			if !slices.Contains(of[c], name) {
				of[c] = append(of[c], name)
			}
		}
	}
	var parts []string
	for _, c := range causes {
		parts = append(parts, "of "+list(of[c])+" "+predicates[c].many)
	}
	if len(parts) == 0 {
		return ""
	}
	return "Poor as a whole: the subs " + strings.Join(parts, ", those ")
}
