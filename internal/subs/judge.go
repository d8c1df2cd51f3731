package subs

import (
	"fmt"
	"sort"
)

// Judge fills the second part of every sub and sums up the groups.
func Judge(all []*Sub, limits Limits) *Result {
	res := &Result{Groups: group(all)}
	odd := wrongSettings(all)
	evidences := map[*Sub]*evidence{}
	for _, g := range res.Groups {
		g.Baseline = newBaseline(g.Subs)
		if g.Baseline.Clear == 0 {
			g.Notes = append(g.Notes, fmt.Sprintf("fewer than %d readable subs: held to absolute limits only", MinGroup))
		}
		g.noteElongation(limits)
		for _, session := range sessions(g.Subs) {
			mates := make([]*evidence, len(session))
			for i, s := range session {
				mates[i] = newEvidence(s, g.Baseline, limits.For(s.Target, s.Filter))
				mates[i].mates, mates[i].rank = mates, i
				evidences[s] = mates[i]
			}
		}
	}
	ordered := inTimeOrder(all)
	night := make([]*evidence, len(ordered))
	for i, s := range ordered {
		night[i] = evidences[s]
	}
	lineUp(night)
	for _, s := range ordered {
		decide(s, evidences[s].findings(odd[s]))
	}
	for _, g := range res.Groups {
		weigh(g)
		g.sumUp()
	}
	res.Events = events(ordered)
	return res
}

// findings are all causes that speak against a sub, the leading one first. What
// leaves nothing to measure leaves nothing else to find.
func (e *evidence) findings(odd finding) []finding {
	switch {
	case e.TruncatedFile:
		return []finding{{Truncated, Cull, certain, e.ReadErr}}
	case e.Unread:
		return []finding{{Unreadable, NotJudged, certain, e.ReadErr}}
	case e.ReadErr != "":
		return []finding{{Unreadable, Cull, certain, e.ReadErr}}
	case e.DuplicateOf != "":
		return []finding{{Duplicate, Cull, certain, "same pixels as " + e.DuplicateOf}}
	}
	found := []finding{odd, e.warmSensor(), e.trailed(), e.jumped(), e.soft()}
	found = append(found, e.weather(), e.brightSky())
	found = append(found, e.counts()...)
	seen := map[Cause]bool{"": true}
	for _, f := range found {
		if f.cause == Cloud {
			seen[BrightSky] = true // the cloud is what is bright
		}
	}
	kept := found[:0]
	sort.SliceStable(found, func(i, j int) bool { return found[i].severity > found[j].severity })
	for _, f := range found {
		if !seen[f.cause] {
			seen[f.cause] = true
			kept = append(kept, f)
		}
	}
	return kept
}

// decide turns findings into a verdict, unless the user did.
func decide(s *Sub, found []finding) {
	s.Verdict, s.Causes, s.Sentence, s.UserDecision = Keep, nil, "", false
	for _, f := range found {
		s.Causes = append(s.Causes, f.cause)
		if f.verdict == Cull || s.Verdict == Keep {
			s.Verdict = f.verdict
		}
	}
	if len(found) > 0 {
		s.Sentence = found[0].words
	}
	s.Measured = s.Verdict
	if s.Decision == "" {
		return
	}
	s.Verdict, s.UserDecision = s.Decision, true
	own := fmt.Sprintf("your decision: %s", s.Decision)
	if s.Measured != s.Decision {
		own += fmt.Sprintf(" (measured: %s)", s.Measured)
	}
	if s.Sentence != "" {
		own += "; " + s.Sentence
	}
	s.Sentence = own
}
