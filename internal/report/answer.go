package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/night"
	"fitsqa/internal/say"
)

// screenLines is how long the first screen of a terminal may be.
const screenLines = 40

// unlimited is the length of what is kept in full.
const unlimited = 1 << 30

type block struct {
	title  string
	items  [][]string // each a wrapped item
	fixed  int        // items at the start that always stay: the titles of a table
	yields bool       // gives way before others where room is short
}

func (b block) lines() int {
	n := 2 // blank line and title
	for _, item := range b.items {
		n += len(item)
	}
	return n
}

// answer is the first screen, of at most so many lines: what to believe, what the night holds, what went
// wrong, what to do this morning and next, calibration where something is new.
func answer(p paper, r *night.Result, sum summary, most int) []string {
	said := say.Of(r, r.Folder)
	head := headline(p, r, sum)
	if said.Depth != "" {
		head = append(head, p.hanging("  ", "  ", said.Depth)...)
	}
	if said.Poor != "" {
		head = append(p.hanging("", "  ", said.Poor+"."), head...)
	}
	blocks := []block{
		p.items("Before anything else", said.Believe),
		holdings(p, sum),
		p.items("What went wrong", troubleTexts(said, sum)),
		p.items("This morning", said.Morning),
		p.items("Next night", said.Next).yielding(),
		p.items("Calibration", said.Calibration).yielding(),
	}
	if len(r.Subs) == 0 { // then the camera is what there is to tell of
		blocks = []block{
			p.items("Before anything else", said.Believe),
			p.items("Camera and calibration", printable(calibrationLines(r))),
			p.items("Warnings", printable(say.Warnings(r))),
		}
	}
	return p.layOut(head, blocks, most)
}

// troubleTexts are the sentences on what went wrong; one that says that nothing did.
func troubleTexts(said say.Answer, sum summary) []string {
	var texts []string
	for _, t := range said.Trouble {
		texts = append(texts, t.Sentence)
	}
	switch {
	case said.Less != "":
		return append(texts, said.Less)
	case len(texts) == 0 && sum.Total.Subs > 0:
		return []string{"Nothing: every sub is good."}
	}
	return texts
}

func (b block) yielding() block {
	b.yields = true
	return b
}

// layOut puts blocks under the headline; the title of a block says how many of its items
// found no room.
func (p paper) layOut(head []string, blocks []block, most int) []string {
	left := p.makeRoom(head, blocks, most)
	lines := head
	for i, b := range blocks {
		if len(b.items) == 0 {
			continue
		}
		title := b.title
		if left[i] > 0 {
			more := fmt.Sprintf(" (%d more in report.txt)", left[i])
			if width(title+more) > int(p) {
				title, _, _ = strings.Cut(title, " (")
			}
			title += more
		}
		lines = append(lines, "", title)
		for _, item := range b.items {
			lines = append(lines, item...)
		}
	}
	return lines
}

// makeRoom takes out what does not fit under the headline, and tells how many items of each
// block: sentences are cut first, then items taken out of the longest block, of those that
// yield first, until all fit.
func (p paper) makeRoom(head []string, blocks []block, most int) (left []int) {
	left = make([]int, len(blocks))
	total := func() int {
		n := len(head) + 1 // the line that points to the details
		for _, b := range blocks {
			if len(b.items) > 0 {
				n += b.lines()
			}
		}
		return n
	}
	longest := func(yielding bool) int {
		found := -1
		for i, b := range blocks {
			if (b.yields || !yielding) && len(b.items) > b.fixed+1 && (found < 0 || b.lines() > blocks[found].lines()) {
				found = i
			}
		}
		return found
	}
	if total() > most {
		p.cut(blocks)
	}
	for total() > most {
		i := longest(true)
		if i < 0 {
			i = longest(false)
		}
		if i < 0 {
			break
		}
		b := &blocks[i]
		b.items = b.items[:len(b.items)-1]
		left[i]++
	}
	return left
}

// cut ends sentences after four lines.
func (p paper) cut(blocks []block) {
	const most = 4
	for _, b := range blocks {
		for i, lines := range b.items {
			if len(lines) > most {
				lines = lines[:most]
				lines[most-1] = clip(lines[most-1], int(p)-2) + " …"
				b.items[i] = lines
			}
		}
	}
}

func (p paper) items(title string, texts []string) block {
	b := block{title: title}
	for _, text := range texts {
		lines := p.hanging("  ", "    ", text)
		if len(lines) > 0 {
			b.items = append(b.items, lines)
		}
	}
	return b
}

func headline(p paper, r *night.Result, sum summary) []string {
	text := nightDate(r, sum) + contents(sum)
	return p.hanging("", "  ", strings.ToUpper(text[:1])+text[1:])
}

// contents says how many files of what the folders hold.
func contents(sum summary) string {
	parts := []string{"no subs"}
	if n := sum.Total.Subs; n > 0 {
		parts[0] = fact.Plural(n, "sub")
	}
	for _, kind := range []frames.Kind{frames.Bias, frames.Dark, frames.Flat} {
		if n := sum.Kinds[kind]; n > 0 {
			parts = append(parts, fact.Plural(n, say.FrameName(kind)))
		}
	}
	if n := sum.Masters; n > 0 {
		parts = append(parts, fact.Plural(n, "combined frame"))
	}
	for _, p := range sum.Products {
		parts = append(parts, say.Fact(p.Fact()))
	}
	if n := sum.Kinds[frames.Unknown]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d of unknown kind", n))
	}
	text := strings.Join(parts, ", ")
	if n := len(sum.Unusable); n > 0 {
		text += fmt.Sprintf("; %s of %d cannot be used", fact.Plural(n, "file"), sum.Files)
	}
	return text
}

func nightDate(r *night.Result, sum summary) string {
	if sum.First.IsZero() {
		return ""
	}
	first, last := sum.First.UTC(), sum.Last.UTC()
	day, lastDay := first.Format(time.DateOnly), last.Format(time.DateOnly)
	evening, lastEvening := cmp.Or(sum.Evenings[0], day), cmp.Or(sum.Evenings[1], lastDay)
	if evening != lastEvening && sum.Evenings[1] != "" {
		return fmt.Sprintf("Nights of %s to %s (%s to %s UTC): ", evening, lastEvening, first.Format("2006-01-02 15:04"), last.Format("2006-01-02 15:04"))
	}
	from, to := first.Format("15:04"), last.Format("15:04")
	if day != evening {
		from = day + " " + from
	}
	if lastDay != day {
		to = lastDay + " " + to
	}
	times := fmt.Sprintf("%s to %s UTC", from, to)
	if local := localSpan(r.Local, sum.First, sum.Last); local != "" {
		times += ", as all times here; " + local
	}
	return fmt.Sprintf("Night of %s (%s): ", evening, times)
}

func holdings(p paper, sum summary) block {
	filterWidth := 12
	if slices.ContainsFunc(sum.Groups, func(g groupSummary) bool { return g.Apart != "" }) {
		filterWidth = 18
	}
	columns := []column{
		{title: "  target", most: 28}, {title: "filter", most: filterWidth}, {title: "sub s", right: true},
		{title: "subs", right: true}, {title: "keep", right: true}, {title: "doubtful", right: true},
		{title: "cull", right: true}, {title: "shot h", right: true}, {title: "usable h", right: true},
		{title: "clear h", right: true},
	}
	var rows [][]string
	for _, g := range sum.Groups {
		rows = append(rows, []string{
			"  " + orNone(g.Target, "(no target)"), g.filterWords(), exposureWords(g.Exposure),
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
	b := block{title: "What the night holds (clear h: worth in hours of its best sky)", fixed: fixed}
	for _, line := range p.table(columns, rows) {
		b.items = append(b.items, []string{line})
	}
	return b
}
