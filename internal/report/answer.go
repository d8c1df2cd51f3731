package report

import (
	"fmt"
	"strings"
	"time"

	"fitsqa/internal/calib"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
	"fitsqa/internal/worth"
)

// screenLines is how long the first screen of report.txt may be.
const screenLines = 40

// block is a titled part of the first screen.
type block struct {
	title string
	items [][]string // each a wrapped item
	fixed int        // items at the start that always stay: the titles of a table
}

func (b block) lines() int {
	n := 2 // blank line and title
	for _, item := range b.items {
		n += len(item)
	}
	return n
}

// answer is the first screen: what the night holds, what was culled and why,
// the camera, the darks, what to do next, warnings.
func answer(p paper, r *night.Result, sum summary) []string {
	blocks := []block{
		p.items("Read this first", r.First),
		p.items("Not judged, for the files could not be read: look at these first", unjudged(r)),
		holdings(p, sum),
		p.items("What was spoiled, and by what", spoiledTexts(r, sum)),
		p.items("Calibration", calibrationLines(r)),
		p.items("Are darks worth it", worthLines(r)),
		p.items("Next", planLines(r)),
		p.items("Warnings", r.Warnings),
	}
	return layOut(headline(p, sum), blocks)
}

// layOut puts blocks under the headline and takes items out of the longest
// block until all fit on the screen; its title says how many are missing.
func layOut(head []string, blocks []block) []string {
	left := make([]int, len(blocks))
	total := func() int {
		n := len(head) + 1 // the line that points to the details
		for _, b := range blocks {
			if len(b.items) > 0 {
				n += b.lines()
			}
		}
		return n
	}
	for total() > screenLines {
		longest := -1
		for i, b := range blocks {
			if len(b.items) > b.fixed+1 && (longest < 0 || b.lines() > blocks[longest].lines()) {
				longest = i
			}
		}
		if longest < 0 {
			break
		}
		b := &blocks[longest]
		b.items = b.items[:len(b.items)-1]
		left[longest]++
	}
	lines := head
	for i, b := range blocks {
		if len(b.items) == 0 {
			continue
		}
		title := b.title
		if left[i] > 0 {
			title += fmt.Sprintf(" (%d more below)", left[i])
		}
		lines = append(lines, "", title)
		for _, item := range b.items {
			lines = append(lines, item...)
		}
	}
	return lines
}

// items is a block of sentences, each cut after three lines.
func (p paper) items(title string, texts []string) block {
	b := block{title: title}
	for _, text := range texts {
		lines := p.hanging("  ", "    ", frames.Printable(text))
		if len(lines) > 3 {
			lines = lines[:3]
			lines[2] = clip(lines[2], int(p)-2) + " …"
		}
		if len(lines) > 0 {
			b.items = append(b.items, lines)
		}
	}
	return b
}

// headline says which night it is and what the folders hold.
func headline(p paper, sum summary) []string {
	return p.hanging("", "  ", nightDate(sum)+contents(sum))
}

// contents says how many files of what the folders hold.
func contents(sum summary) string {
	parts := []string{plural(sum.Total.Subs, "sub")}
	for _, kind := range []frames.Kind{frames.Bias, frames.Dark, frames.Flat} {
		if n := sum.Kinds[kind]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, kind))
		}
	}
	if n := sum.Masters; n > 0 {
		parts = append(parts, plural(n, "combined frame"))
	}
	if n := sum.Kinds[frames.Product]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d made from frames or none", n))
	}
	if n := sum.Kinds[frames.Unknown]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d of unknown kind", n))
	}
	text := strings.Join(parts, ", ")
	if n := len(sum.Unusable); n > 0 {
		text += fmt.Sprintf("; %s of %d cannot be used", plural(n, "file"), sum.Files)
	}
	return text
}

// nightDate names the night by its evening, with the times of its first and last
// sub, and several by the first and the last.
func nightDate(sum summary) string {
	if sum.First.IsZero() {
		return "Night: "
	}
	first, last := sum.First.UTC(), sum.Last.UTC()
	day, clock := first.Format(time.DateOnly), last.Format("15:04")
	if last.Format(time.DateOnly) != day {
		clock = last.Format("2006-01-02 15:04")
	}
	switch evening, lastEvening := sum.Evenings[0], sum.Evenings[1]; {
	case evening != lastEvening:
		return fmt.Sprintf("Nights of %s to %s (%s to %s UTC): ", evening, lastEvening, first.Format("2006-01-02 15:04"), clock)
	case evening == day || evening == "":
		return fmt.Sprintf("Night of %s, %s to %s UTC: ", day, first.Format("15:04"), clock)
	default:
		return fmt.Sprintf("Night of %s (%s to %s UTC): ", evening, first.Format("2006-01-02 15:04"), clock)
	}
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// holdings is the table of what the night holds per target and filter.
func holdings(p paper, sum summary) block {
	columns := []column{
		{title: "  target", most: 28}, {title: "filter", most: 12}, {title: "sub s", right: true},
		{title: "subs", right: true}, {title: "keep", right: true}, {title: "doubtful", right: true},
		{title: "cull", right: true}, {title: "shot h", right: true}, {title: "usable h", right: true},
		{title: "clear h", right: true},
	}
	var rows [][]string
	for _, g := range sum.Groups {
		rows = append(rows, []string{
			"  " + orNone(g.Target, "(no target)"), orNone(g.Filter, "(none)"), exposureWords(g.Exposure),
			fmt.Sprint(g.tally.Subs), fmt.Sprint(g.Keep), fmt.Sprint(g.Doubtful), fmt.Sprint(g.Cull),
			hours(g.ShotSeconds), hours(g.UsableSeconds), hours(g.EquivalentClearSeconds),
		})
	}
	if len(rows) == 0 {
		return p.items("What the night holds", []string{"no subs"})
	}
	fixed := 1
	if len(rows) > 1 { // the sum first, so that it stays when groups do not fit
		t := sum.Total
		rows = append([][]string{{
			"  all", "", "", fmt.Sprint(t.Subs), fmt.Sprint(t.Keep), fmt.Sprint(t.Doubtful), fmt.Sprint(t.Cull),
			hours(sum.ShotS), hours(sum.UsableS), hours(sum.EquivalentS),
		}}, rows...)
		fixed = 2
	}
	b := block{title: "What the night holds (clear h: hours of its best sky that make the same stack)", fixed: fixed}
	for _, line := range p.table(columns, rows) {
		b.items = append(b.items, []string{line})
	}
	return b
}

// spoiledTexts say what was culled and why: per group, then the events.
func spoiledTexts(r *night.Result, sum summary) []string {
	var texts []string
	for _, g := range sum.Groups {
		if len(g.Causes) == 0 {
			continue
		}
		texts = append(texts, fmt.Sprintf("%s: %s", groupName(g.Group), causeWords(g.Causes)))
	}
	for _, g := range sum.Groups {
		if len(g.Poor) > 0 {
			texts = append(texts, fmt.Sprintf("%s: poor as a whole: the typical sub is %s", groupName(g.Group), strings.Join(causeCodes(g.Poor), " and ")))
		}
	}
	if len(texts) == 0 && sum.Total.Subs > 0 {
		texts = []string{"nothing: every sub is good"}
	}
	if r.Verdicts != nil {
		for _, e := range r.Verdicts.Events {
			texts = append(texts, e.Words)
		}
		texts = append(texts, focusLines(r)...)
	}
	return texts
}

// causeWords names causes with the subs and minutes each cost.
func causeWords(causes []causeCount) string {
	parts := make([]string, len(causes))
	for i, c := range causes {
		parts[i] = fmt.Sprintf("%s %d", causeName(c.Cause), c.Subs)
		if c.LostS > 0 {
			parts[i] += fmt.Sprintf(" (%s min lost)", decimals(c.LostS/60, 0))
		}
	}
	return strings.Join(parts, ", ")
}

// groupName is target and filter, short.
func groupName(g *subs.Group) string {
	return strings.TrimSpace(fmt.Sprintf("%s %s %s s",
		orNone(g.Target, "(no target)"), g.Filter, exposureWords(g.Exposure)))
}

// calibrationLines is one line a set with its leading figures.
func calibrationLines(r *night.Result) []string {
	if r.Calib == nil {
		return nil
	}
	var texts []string
	for _, kind := range []string{"camera", "bias", "dark", "flat"} {
		for _, s := range r.Calib.Sets {
			if s.Kind == kind {
				texts = append(texts, s.Label+": "+leading(s))
			}
		}
	}
	return texts
}

// leadingMetrics are the figures of each kind that the first screen shows.
var leadingMetrics = map[string][]struct{ name, words string }{
	"camera": {
		{"gain_e_per_adu", "gain"}, {"read_noise_e", "read noise"}, {"full_well_e", "full well"},
		{"dynamic_range_stops", "dynamic range"}, {"dark_doubling_c", "dark doubles every"},
	},
	"bias": {{"offset_adu", "offset"}, {"read_noise_adu", "read noise"}, {"read_noise_e", ""}},
	"dark": {{"dark_current_e_per_s", "dark current"}, {"dark_current_adu_per_s", ""}, {"hot_pixels", "hot"}, {"glow_e", "glow"}},
	"flat": {{"level_fraction", "level"}, {"gain_e_per_adu", "gain"}, {"corner_falloff_pct", "corner falloff"}, {"dust_shadows", "dust shadows"}},
}

// leading words the first figures of a set and how many frames it has.
func leading(s *calib.Set) string {
	var parts []string
	for _, want := range leadingMetrics[s.Kind] {
		for _, m := range s.Metrics {
			if m.Name == want.name && m.Value.OK() {
				parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s %s", want.words, plain(m.Value.V), m.Unit)))
			}
		}
	}
	if s.Group != nil {
		parts = append(parts, plural(len(s.Group.Frames), "frame"))
	}
	if n := len(s.Warnings); n > 0 {
		parts = append(parts, plural(n, "warning"))
	}
	if len(parts) == 0 {
		return "nothing could be measured"
	}
	return strings.Join(parts, ", ")
}

func worthLines(r *night.Result) []string {
	var texts []string
	for _, w := range r.Worth {
		texts = append(texts, w.Label+": "+worthWords(w))
	}
	return texts
}

// worthWords is the verdict on darks, or why there is none.
func worthWords(w worth.Answer) string {
	switch {
	case w.Sentence != "":
		return w.Sentence
	case w.Verdict != "":
		return w.Verdict
	}
	return "cannot tell: " + orNone(w.Why, "not measured")
}

// planLines is the advice.
func planLines(r *night.Result) []string {
	if r.Plan == nil {
		return nil
	}
	return r.Plan.Words
}

func hours(seconds float64) string { return decimals(seconds/3600, 2) }

func orNone[S ~string](s S, none string) string {
	if shown := strings.TrimSpace(frames.Printable(string(s))); shown != "" {
		return shown
	}
	return none
}
