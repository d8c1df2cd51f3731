package report

import (
	"fmt"
	"strings"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
	"fitsqa/internal/sensor"
)

// calibrationDetails lists every figure of every set, and the coverage.
func calibrationDetails(r *night.Result) []string {
	if r.Calib == nil {
		return nil
	}
	var lines []string
	if len(r.Calib.Sets) > 0 {
		lines = heading("Calibration frames and camera")
	}
	for i, s := range r.Calib.Sets {
		if i > 0 {
			lines = append(lines, "")
		}
		lines = append(lines, fullPaper.hanging("", "  ", say.Typeset(frames.Printable(s.Label)))...)
		lines = append(lines, metricLines(s)...)
		for _, warning := range say.SetWarnings(s) {
			lines = append(lines, fullPaper.hanging("  ! ", "    ", say.Typeset(frames.Printable(warning)))...)
		}
	}
	var coverage []string
	for _, c := range r.Calib.Coverage {
		coverage = append(coverage, fmt.Sprintf("%s: bias: %s; dark: %s; flat: %s",
			c.Lights.Label(), say.Fit(&c.Bias.Fit), say.Fit(&c.Dark.Fit), say.Fit(&c.Flat.Fit)))
	}
	return append(lines, section("Which calibration frames fit", coverage)...)
}

// metricLines is the table of a set's figures, a reason in place of a value
// that is missing.
func metricLines(s *sensor.Set) []string {
	var lines []string
	longest := 27
	for _, m := range s.Metrics() {
		longest = max(longest, width(m.Name))
	}
	for _, m := range s.Metrics() {
		value, note := measured(m.Value), say.Note(m.Note)
		if m.Value.OK() {
			value += " " + m.Unit
			if m.Value.N > 0 {
				note = strings.TrimSuffix(fmt.Sprintf("n=%d, %s", m.Value.N, note), ", ")
			}
		} else {
			note = say.Fact(m.Value.Why)
		}
		start := fmt.Sprintf("  %-*s %-26s ", longest, m.Name, say.Typeset(strings.TrimSpace(value)))
		if note == "" {
			lines = append(lines, strings.TrimRight(start, " "))
			continue
		}
		lines = append(lines, fullPaper.hanging(start, strings.Repeat(" ", width(start)), say.Typeset(frames.Printable(note)))...)
	}
	return lines
}

// worthDetails is the noise budget of the finished stack, case by case.
func worthDetails(r *night.Result) []string {
	var lines []string
	var open shared // groups of which nothing is known, with the reason
	for i := range r.Worth {
		w := &r.Worth[i]
		if w.Verdict() == "" && w.Library == nil && len(w.Cases) == 0 {
			open.add(w.Label, worthWords(w))
			continue
		}
		lines = append(lines, fullPaper.hanging("", "  ", say.Typeset(frames.Printable(w.Label+": "+worthWords(w))))...)
		if words := say.Library(w.Library); words != "" {
			lines = append(lines, fullPaper.hanging("  ", "  ", say.Typeset(frames.Printable(words)))...)
		}
		var rows [][]string
		for _, c := range w.Cases {
			dither := "no"
			if c.Dithered {
				dither = "yes"
			}
			rows = append(rows, []string{
				"  " + correctionWords(c), dither, significant(c.Sky, 3), significant(c.DarkShot, 3), significant(c.Read, 3),
				significant(c.FixedPattern, 3), significant(c.Master, 3), significant(c.Total, 4), decimals(c.HotMean, 0), decimals(c.HotScatter, 0),
			})
		}
		if len(rows) > 0 {
			lines = append(lines, fullPaper.table([]column{
				{title: "  taken off"}, {title: "moved"}, {title: "sky", right: true}, {title: "dark shot", right: true},
				{title: "read", right: true}, {title: "pattern", right: true}, {title: "master", right: true},
				{title: "total", right: true}, {title: "hot, mean", right: true}, {title: "hot, 3 sd", right: true},
			}, rows)...)
		}
	}
	for _, text := range open.texts() {
		lines = append(lines, fullPaper.hanging("", "  ", say.Typeset(frames.Printable(text)))...)
	}
	if lines == nil {
		return nil
	}
	title := heading("Are darks worth it: noise of the finished stack, e- per pixel of an average sub")
	return append(title, lines...)
}

// masterTexts answers, for each group of subs, whether its bias frames and
// flats are enough.
func masterTexts(r *night.Result) []string {
	var texts shared
	for i := range r.MasterWorth {
		w := &r.MasterWorth[i]
		words := say.Master(w)
		if words == "" {
			words = "cannot tell: " + say.Fact(w.Lacks)
		}
		texts.add(w.Label+" "+w.Kind, words)
	}
	return texts.texts()
}

func missingTexts(r *night.Result) []string {
	type gap struct {
		names []string
		subs  map[string]bool
	}
	gaps := map[string]*gap{}
	var reasons []string
	for _, m := range measures {
		for _, s := range r.Subs {
			v := m.of(s)
			if s.Field == nil || v.OK() { // the verdict of an unread sub says why
				continue
			}
			why := newFigure(v).Reason
			if gaps[why] == nil {
				gaps[why] = &gap{subs: map[string]bool{}}
				reasons = append(reasons, why)
			}
			g := gaps[why]
			g.subs[s.File] = true
			if n := len(g.names); n == 0 || g.names[n-1] != m.name {
				g.names = append(g.names, m.name)
			}
		}
	}
	var texts []string
	for _, why := range reasons {
		g := gaps[why]
		texts = append(texts, fmt.Sprintf("%s (%s): %s", why, fact.Plural(len(g.subs), "sub"), strings.Join(g.names, ", ")))
	}
	return texts
}
