package say

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/stats"
	"fitsqa/internal/subs"
)

// troubles gathers the subs that were not kept by their leading causes; what
// cost most comes first.
func troubles(r *night.Result, c clock) []Trouble {
	of := map[subs.Cause]*Trouble{}
	for _, s := range r.Subs {
		if s.Verdict == subs.Keep || len(s.Causes) == 0 || s.UserDecision {
			continue
		}
		t := of[s.Causes[0]]
		if t == nil {
			t = &Trouble{Cause: s.Causes[0]}
			of[s.Causes[0]] = t
		}
		t.Subs = append(t.Subs, s)
		switch s.Verdict {
		case subs.Cull:
			t.Culled++
			if s.Exposure > 0 {
				t.CulledSeconds += s.Exposure
			}
		case subs.Doubtful:
			t.Doubtful++
		}
	}
	var all []Trouble
	for _, t := range of {
		t.Sentence = t.sentence(r, c)
		all = append(all, *t)
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := all[i], all[j]
		switch {
		case a.CulledSeconds != b.CulledSeconds:
			return a.CulledSeconds > b.CulledSeconds
		case len(a.Subs) != len(b.Subs):
			return len(a.Subs) > len(b.Subs)
		}
		return a.Cause < b.Cause
	})
	return all
}

// sentence tells what went wrong, since when, how badly, what to do about it, and
// what it cost.
func (t *Trouble) sentence(r *night.Result, c clock) string {
	what := t.what(r, c)
	if remedy := t.remedy(); remedy != "" {
		what += ": " + remedy
	}
	return what + ". " + t.cost()
}

func (t *Trouble) remedy() string {
	if t.Cause == subs.Dewed && t.orCloud() {
		return "heat them if they are wet, else wait for the sky"
	}
	if t.Cause == subs.NoStars && t.all(func(s *night.Sub) bool { return s.Field != nil && s.Field.Full }) {
		return "the sky fills the camera's range; expose shorter, or in the dark"
	}
	return t.predicate().remedy
}

// predicate is what the cause makes of the subs; a sensor that was still warm was set to
// nothing wrong.
func (t *Trouble) predicate() predicate {
	if t.Cause == subs.WrongSettings && t.all(func(s *night.Sub) bool { return s.Warmed }) {
		return predicate{"was shot with a warmer sensor", "were shot with a warmer sensor", "let it come to its temperature first"}
	}
	return predicates[t.Cause]
}

func (t *Trouble) all(so func(*night.Sub) bool) bool {
	return !slices.ContainsFunc(t.Subs, func(s *night.Sub) bool { return !so(s) })
}

func (t *Trouble) byDay() bool {
	return t.Cause == subs.Twilight && t.all(func(s *night.Sub) bool { return s.Sky.SunAlt.V > 0 })
}

func (t *Trouble) many() string {
	if t.byDay() {
		return "were taken by day"
	}
	return t.predicate().many
}

// orCloud tells whether a cloud would look like the dew that was found, in every sub.
func (t *Trouble) orCloud() bool {
	return t.all(func(s *night.Sub) bool { return slices.Contains(s.Causes, subs.Cloud) })
}

func (t *Trouble) cost() string {
	var parts []string
	if t.Culled > 0 {
		text := fmt.Sprintf("%d culled", t.Culled)
		if len(t.Subs) == 1 {
			text = "Culled"
		}
		if t.CulledSeconds > 0 {
			text += " (" + duration(t.CulledSeconds) + ")"
		}
		parts = append(parts, text)
	}
	if t.Doubtful > 0 {
		text := fmt.Sprintf("%d doubtful", t.Doubtful)
		if len(t.Subs) == 1 {
			text = "Doubtful"
		}
		parts = append(parts, text)
	}
	if n := len(t.Subs) - t.Culled - t.Doubtful; n > 0 {
		parts = append(parts, fmt.Sprintf("%d not judged", n))
	}
	return strings.Join(parts, ", ") + "."
}

func (t *Trouble) what(r *night.Result, c clock) string {
	when, at := t.when(r, c), ""
	if when != "" {
		at = " " + when
	}
	switch t.Cause {
	case subs.Soft:
		return t.soft(r, c, when)
	case subs.Trailed:
		return t.trailed(r, when)
	case subs.Cloud:
		return "Cloud" + at + t.light()
	case subs.Haze:
		return "Haze" + at + t.light()
	case subs.Dewed:
		if t.orCloud() {
			return "Dew on the optics, or a cloud that thickened," + at + t.light()
		}
		return "Dew on the optics" + at + t.light()
	case subs.Obstructed:
		if t.all(func(s *night.Sub) bool { return finds(s, subs.SkyDimmed) }) {
			return "Something before the telescope" + at + t.light() + ", of stars and sky alike, or the exposure was shorter than the header tells"
		}
		return "Part of the field covered" + at
	case subs.Twilight:
		if t.byDay() {
			return "Daylight" + at + t.sky(r) + t.sun() + ": if it was dark, the headers' time, zone or longitude is wrong; else " + nearSun
		}
		return "Twilight" + at + t.sky(r) + t.sun() + ": " + t.shorter(r)
	case subs.Moonlit:
		return "Moonlight" + at + t.sky(r)
	case subs.BrightSky:
		text := "A bright sky" + at + strings.Replace(t.sky(r), ", sky", ",", 1)
		if slices.ContainsFunc(t.Subs, func(s *night.Sub) bool { return finds(s, subs.SunSaidLow) }) {
			text += t.sun() + " by the headers: as only twilight is, so that their time, zone or longitude is likely wrong"
		}
		return text
	case subs.Unreadable:
		return fmt.Sprintf("%s cannot be read (%s)", count(len(t.Subs), "file"), t.reasons())
	}
	return t.counted(when)
}

// counted is a trouble that its cause alone names: of how many subs, when, and by what the first was told.
func (t *Trouble) counted(when string) string {
	p := t.predicate()
	text := count(len(t.Subs), "sub") + " " + p.many
	if len(t.Subs) == 1 {
		text = "1\u00a0sub " + p.one
	}
	if when != "" {
		text += ", " + when
	}
	switch s := frames.Printable(Sub(t.Subs[0].Sub)); {
	case s == "":
	case len(t.Subs) == 1:
		text += " (" + s + ")"
	case t.Cause == subs.WrongSettings: // which ones is what one wants to know
		text += " (the first: " + s + ")"
	}
	return text
}

// reasons why files cannot be read, the commonest first, two at most.
func (t *Trouble) reasons() string {
	of := map[string]int{}
	var all []string
	for _, s := range t.Subs {
		why := frames.Printable(s.ReadErr)
		if of[why]++; of[why] == 1 {
			all = append(all, why)
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return of[all[i]] > of[all[j]] })
	const most = 2
	for i, why := range all {
		if i == most {
			return strings.Join(all[:most], "; ") + "; and others"
		}
		if len(all) > 1 {
			all[i] = why + ", " + count(of[why], "time")
		}
	}
	return strings.Join(all, "; ")
}

func (t *Trouble) light() string {
	through := figures(t.Subs, func(s *night.Sub) stats.Value { return s.Transparency.Ratio })
	if len(through) == 0 {
		return ""
	}
	if len(through) == 1 {
		return fmt.Sprintf(" let through %s of the light", unit(number(100*through[0], 0), "%"))
	}
	return fmt.Sprintf(" let through %s of the light", span(100*through[0], 100*through[len(through)-1], 0, "%"))
}

// sky says how much brighter than the groups' own the sky became.
func (t *Trouble) sky(r *night.Result) string {
	most, brightest := 1.05, (*night.Sub)(nil)
	for _, s := range t.Subs {
		if g := groupOf(r, s); g != nil && g.Baseline.Sky > 0 && s.SkyADU.OK() && s.SkyADU.V/g.Baseline.Sky > most {
			most, brightest = s.SkyADU.V/g.Baseline.Sky, s
		}
	}
	if brightest == nil {
		return ""
	}
	return ", sky up to " + timesAsBright(most, brightest)
}

// timesAsBright is how many times as bright as its group's a sub's sky is, from the ratio of
// their levels. Where the camera's offset is not known it is in both, and the sky itself
// grew by more.
func timesAsBright(ratio float64, s *night.Sub) string {
	text := rough(ratio) + " times as bright"
	if !s.Calibrated {
		text += " or more"
	}
	return text
}

const nearSun = "never point a telescope without a solar filter near the Sun"

func (t *Trouble) shorter(r *night.Result) string {
	first, last := t.Subs[0], t.Subs[len(t.Subs)-1]
	var before, after bool // usable subs before the last one, and after the first
	for _, s := range r.Subs {
		if s.Start.IsZero() || !s.Verdict.Usable() || slices.Contains(s.Causes, subs.Twilight) {
			continue
		}
		before = before || s.Start.Before(last.Start)
		after = after || s.Start.After(first.Start)
	}
	if !before && !after {
		after = last.Sky.SunAlt.V < first.Sky.SunAlt.V // it went down
	}
	text := "end earlier"
	switch {
	case before && after:
		text = "begin later and end earlier"
	case after:
		text = "begin later"
	}
	text += ", twilight is good for flats"
	if alt := figures(t.Subs, func(s *night.Sub) stats.Value { return s.Sky.SunAlt }); len(alt) > 0 && alt[len(alt)-1] > 0 {
		text += ". N" + nearSun[1:]
	}
	return text
}

func (t *Trouble) sun() string {
	alt := figures(t.Subs, func(s *night.Sub) stats.Value { return s.Sky.SunAlt })
	if len(alt) == 0 {
		return ""
	}
	return ", the Sun at " + span(alt[0], alt[len(alt)-1], 0, "°")
}
