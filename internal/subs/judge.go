package subs

import (
	"slices"
	"sort"

	"fitsqa/internal/fact"
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
			if s.Measured == Cull {
				culled[s], same = true, false
			}
		}
		if same {
			break
		}
	}
	for s := range culled {
		restate(s, evidences[s].findings(odd[s]))
	}
	for _, s := range ordered {
		s.Low = slices.Contains(s.Causes, Soft) && evidences[s].low()
	}
	for _, g := range res.Groups {
		g.notes(limits)
		weigh(g)
		g.sumUp()
	}
	res.noteCloudBeside()
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
		g.Baseline = newBaseline(remaining(g.Subs, culled, 1), remaining(g.Subs, culled, minGroup), remaining(res.like(g), culled, minGroup))
		g.Baseline.optics(res.like(g), remaining(res.through(g), culled, 1))
		inForce := limits.For(g.Target, g.Filter).aimed().against(g.Baseline)
		for _, session := range sessions(g.Subs) {
			mates, drifts := make([]*evidence, len(session)), map[bool]drift{}
			for i, s := range session {
				mates[i] = &evidence{Sub: s, base: g.Baseline, lim: inForce, mates: mates, rank: i, drifts: drifts}
				evidences[s] = mates[i]
			}
			comet := motionOf(mates)
			g.Followed = max(g.Followed, comet.px)
			for _, e := range mates {
				e.motion = comet
				e.fill()
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

// remaining are the subs that are not culled, or all where too few remain.
func remaining(subs []*Sub, culled map[*Sub]bool, fewest int) []*Sub {
	var rest []*Sub
	for _, s := range subs {
		if !culled[s] {
			rest = append(rest, s)
		}
	}
	if len(usableSubs(rest)) < fewest {
		return subs
	}
	return rest
}

// findings are all causes that speak against a sub, the leading one first. What
// leaves nothing to measure leaves nothing else to find.
func (e *evidence) findings(odd Finding) []Finding {
	switch {
	case e.TruncatedFile:
		return []Finding{{Truncated, Cull, certain, e.readFailed()}}
	case e.Unread:
		return []Finding{{Unreadable, NotJudged, certain, e.readFailed()}}
	case e.ReadErr != "":
		return []Finding{{Unreadable, Cull, certain, e.readFailed()}}
	case e.DuplicateOf != "":
		return []Finding{{Duplicate, Cull, certain, []fact.Fact{fact.Of(SamePixels, fact.Text("file", e.DuplicateOf))}}}
	}
	e.Warmed = e.warmthLights()
	found := []Finding{odd}
	if e.Field != nil {
		for _, find := range finders {
			found = append(found, find(e)...)
		}
	}
	if e.hotPixelsMeasured() {
		for i := range found {
			if f := &found[i]; f.Cause != "" && f.Verdict == Cull && f.Cause != WrongSettings {
				f.Verdict = Doubtful
				f.Facts = append(slices.Clip(f.Facts), fact.Of(NoStarsWidth, fact.Number("fwhm_px", e.Field.FWHM.V), e.whose(), fact.Number("baseline_px", e.base.FWHM)))
			}
		}
	}
	seen := map[Cause]bool{"": true}
	kept := found[:0]
	sort.SliceStable(found, func(i, j int) bool { return found[i].Severity > found[j].Severity })
	for _, f := range found {
		if !seen[f.Cause] {
			seen[f.Cause] = true
			kept = append(kept, f)
		}
	}
	return kept
}

// decide turns findings into a verdict, the strictest of all of them, unless the
// user did.
func decide(s *Sub, found []Finding) {
	s.Verdict, s.Causes, s.Findings, s.Remarks, s.UserDecision = Keep, nil, found, nil, false
	for _, f := range found {
		s.Causes = append(s.Causes, f.Cause)
		if f.Verdict == Cull || s.Verdict == Keep {
			s.Verdict = f.Verdict
		}
	}
	if s.Measured = s.Verdict; s.Decision != "" {
		s.Verdict, s.UserDecision = s.Decision, true
	}
}

// restate gives a culled sub the findings beside the baseline that the group ends with, so
// that one group is told by one baseline and one limit; where that does not cull it any
// more, those by which it was culled stand, with the baseline that they name.
func restate(s *Sub, found []Finding) {
	before := *s
	if decide(s, found); s.Measured != Cull {
		*s = before
	}
}

// readFailed is why the file could not be read.
func (e *evidence) readFailed() []fact.Fact {
	return []fact.Fact{fact.Of(ReadFailed, fact.Text("error", e.ReadErr))}
}
