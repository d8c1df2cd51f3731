package subs

import (
	"fmt"
	"sort"
)

// Judge fills the second part of every sub and sums up the groups.
//
// What a night's good subs are like is asked of the subs that are not culled,
// and which are culled depends on that: the judgement is repeated until it
// stays, so that judging what it leaves once more culls nothing new.
func Judge(all []*Sub, limits Limits) *Result {
	res := &Result{Groups: group(all)}
	ordered := inTimeOrder(all)
	odd := wrongSettings(all)
	culled := map[*Sub]bool{}
	var evidences map[*Sub]*evidence
	for range mostRounds {
		evidences = res.gather(ordered, limits, culled)
		same := true
		for _, s := range ordered {
			if culled[s] { // by a baseline that may have gone with others since
				continue
			}
			decide(s, evidences[s].findings(odd[s]))
			s.Low = evidences[s].low()
			if s.Measured == Cull {
				culled[s], same = true, false
			}
		}
		if same {
			break
		}
	}
	for _, g := range res.Groups {
		g.notes(limits)
		weigh(g)
		g.sumUp()
	}
	night := make([]*evidence, len(ordered))
	for i, s := range ordered {
		night[i] = evidences[s]
	}
	res.FocusDrifts, res.FocusLaws = focusDrifts(night), focusLaws(night)
	res.Events = events(ordered)
	return res
}

// mostRounds of judgement: what is culled only grows, and each round culls what
// the last one's baseline was blind to.
const mostRounds = 6

// gather is the evidence on every sub against baselines of those not culled.
func (res *Result) gather(ordered []*Sub, limits Limits, culled map[*Sub]bool) map[*Sub]*evidence {
	evidences := map[*Sub]*evidence{}
	for _, g := range res.Groups {
		g.Baseline = newBaseline(remaining(g.Subs, culled), remaining(res.like(g), culled))
		g.Baseline.optics(remaining(res.through(g), culled))
		for _, session := range sessions(g.Subs) {
			mates := make([]*evidence, len(session))
			for i, s := range session {
				mates[i] = newEvidence(s, g.Baseline, limits.For(s.Target, s.Filter).aimed())
				mates[i].mates, mates[i].rank = mates, i
				evidences[s] = mates[i]
			}
		}
	}
	night := make([]*evidence, len(ordered))
	for i, s := range ordered {
		night[i] = evidences[s]
	}
	lineUp(night)
	return evidences
}

// remaining are the subs that are not culled, or all where too few remain to
// tell what is normal.
func remaining(subs []*Sub, culled map[*Sub]bool) []*Sub {
	var rest []*Sub
	for _, s := range subs {
		if !culled[s] {
			rest = append(rest, s)
		}
	}
	if len(usableSubs(rest)) < MinGroup {
		return subs
	}
	return rest
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
	found := []finding{odd, e.warmSensor(), e.trailed(), e.jumped(), e.soft(), e.obstructed()}
	found = append(found, e.light()...)
	found = append(found, e.counts()...)
	if e.hotPixelsMeasured() {
		for i := range found {
			if found[i].cause != "" && found[i].verdict == Cull && found[i].cause != WrongSettings {
				found[i].verdict = Doubtful
				found[i].words += fmt.Sprintf("; its width of %.1f px is no star's beside %s %.1f: hot pixels may have been measured, look at it", e.Field.FWHM.V, e.whose(), e.base.FWHM)
			}
		}
	}
	seen := map[Cause]bool{"": true}
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

// decide turns findings into a verdict, the strictest of all of them, unless the
// user did.
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
