package report

import (
	"path"
	"strings"

	"github.com/rivo/uniseg"

	"fitsqa/internal/frames"
	"fitsqa/internal/say"
)

// paper is what text is laid out on: so many terminal columns wide.
type paper int

const fullPaper paper = 100

const narrowest paper = 72

// width is how many terminal columns s takes.
func width(s string) int { return uniseg.StringWidth(s) }

// clip shortens s to n columns, with "…" where text was taken out of its
// middle: the start and the end of a file name tell it apart best.
func clip(s string, n int) string {
	if width(s) <= n {
		return s
	}
	clusters := split(s)
	head, tail := []string{}, []string{}
	used := 1
	for i, j := 0, len(clusters)-1; i <= j; {
		if len(head) <= len(tail) {
			if used += width(clusters[i]); used > n {
				break
			}
			head = append(head, clusters[i])
			i++
			continue
		}
		if used += width(clusters[j]); used > n {
			break
		}
		tail = append(tail, clusters[j])
		j--
	}
	for i, j := 0, len(tail)-1; i < j; i, j = i+1, j-1 {
		tail[i], tail[j] = tail[j], tail[i]
	}
	return strings.Join(head, "") + "…" + strings.Join(tail, "")
}

// split cuts s into what a reader sees as characters.
func split(s string) []string {
	var out []string
	for g := uniseg.NewGraphemes(s); g.Next(); {
		out = append(out, g.Str())
	}
	return out
}

// breaks tells a space at which lines may break; no-break spaces hold a number
// and its unit together.
func breaks(r rune) bool { return r == ' ' || r == '\t' || r == '\n' }

// wrap breaks text at spaces into lines of at most n columns; a word that is
// too long by itself is cut.
func wrap(text string, n int) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(text, breaks) {
		for width(word) > n {
			if line != "" {
				lines, line = append(lines, line), ""
			}
			head := ""
			for _, c := range split(word) {
				if width(head)+width(c) > n {
					break
				}
				head += c
			}
			if head == "" {
				break
			}
			lines, word = append(lines, head), word[len(head):]
		}
		switch {
		case line == "":
			line = word
		case width(line)+1+width(word) > n:
			lines, line = append(lines, line), word
		default:
			line += " " + word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// hanging wraps text with a first and a following indent.
func (p paper) hanging(first, next, text string) []string {
	lines := wrap(text, int(p)-max(width(first), width(next)))
	for i := range lines {
		if i == 0 {
			lines[i] = first + lines[i]
		} else {
			lines[i] = next + lines[i]
		}
	}
	return lines
}

type column struct {
	title string
	right bool // numbers are set to the right
	most  int  // widest content shown; 0: as wide as it comes
	flex  bool // a path, which gives way when the table is too wide
}

// shorten fits paths into n columns as long as they stay distinct: without their
// folders, without the start that they share, without their middle.
func shorten(paths []string, n int) []string {
	bases := make([]string, len(paths))
	for i, name := range paths {
		bases[i] = path.Base(name)
	}
	start := 0
	if len(bases) > 1 {
		start = len(sharedStart(bases))
	}
	tails, clipped := make([]string, len(paths)), make([]string, len(paths))
	for i, name := range bases {
		tails[i] = name
		if start > 1 {
			tails[i] = "…" + name[start:]
		}
		clipped[i] = clip(tails[i], n)
	}
	for _, names := range [][]string{paths, bases, tails, clipped} {
		if fit(names, n) && distinct(names) == distinct(paths) {
			return names
		}
	}
	if distinct(bases) < distinct(paths) {
		return paths
	}
	return bases
}

// sharedStart is what names begin with alike, up to where a word ends.
func sharedStart(names []string) string {
	start := names[0]
	for _, name := range names[1:] {
		for !strings.HasPrefix(name, start) {
			start = start[:len(start)-1]
		}
	}
	return start[:strings.LastIndexAny(start, "_- .")+1]
}

func fit(names []string, n int) bool {
	for _, name := range names {
		if width(name) > n {
			return false
		}
	}
	return true
}

func distinct(names []string) int {
	all := map[string]bool{}
	for _, name := range names {
		all[name] = true
	}
	return len(all)
}

// table sets rows under their titles, two spaces between columns.
func (p paper) table(columns []column, rows [][]string) []string {
	widths := p.widths(columns, rows)
	line := func(cells []string) string {
		var b strings.Builder
		for i, c := range columns {
			if i > 0 {
				b.WriteString("  ")
			}
			space := strings.Repeat(" ", widths[i]-width(cells[i]))
			if c.right {
				b.WriteString(space + cells[i])
			} else {
				b.WriteString(cells[i] + space)
			}
		}
		return strings.TrimRight(b.String(), " ")
	}
	titles := make([]string, len(columns))
	for i, c := range columns {
		titles[i] = c.title
	}
	lines := []string{line(titles)}
	for _, row := range rows {
		lines = append(lines, line(row))
	}
	return lines
}

// widths are those of the columns, whose cells are shortened in place where they are too
// wide for themselves or all together for the paper.
func (p paper) widths(columns []column, rows [][]string) []int {
	widths := make([]int, len(columns))
	for i, c := range columns {
		widths[i] = width(c.title)
		for _, row := range rows {
			if c.most > 0 {
				row[i] = clip(row[i], c.most)
			}
			widths[i] = max(widths[i], width(row[i]))
		}
	}
	total := 2 * (len(columns) - 1)
	for _, w := range widths {
		total += w
	}
	for i, c := range columns {
		if c.flex && total > int(p) {
			paths := make([]string, len(rows))
			for k, row := range rows {
				paths[k] = row[i]
			}
			widths[i] = max(width(c.title), widths[i]-(total-int(p)))
			for k, name := range shorten(paths, widths[i]) {
				rows[k][i] = name
				widths[i] = max(widths[i], width(name))
			}
		}
	}
	return widths
}

func heading(title string) []string {
	return []string{"", title, strings.Repeat("-", width(title))}
}

// section is a heading over sentences; nothing when there are none.
func section(title string, texts []string) []string {
	var lines []string
	for _, text := range texts {
		lines = append(lines, fullPaper.hanging("  ", "    ", say.Typeset(frames.Printable(text)))...)
	}
	if len(lines) == 0 {
		return nil
	}
	return append(heading(title), lines...)
}
